"""Commands; each module is loaded only when its command runs, so that ``--help`` costs what click costs."""

import os
import sys
from collections.abc import Mapping
from importlib import import_module
from typing import NoReturn

import click

from qcledger import __version__

COMMANDS: Mapping[str, tuple[str, str]] = {
    "start": ("qcledger.cli.start:start", "Begin your own ledger, or join one on a server."),
    "demo": ("qcledger.cli.demo:demo", "Look around in a private copy of an invented studio's ledger."),
    "findings": ("qcledger.cli.findings:findings", "Say which makers and formats show recurring faults."),
    "price": ("qcledger.cli.price:price", "Compare what was paid, only like with like."),
    "shopping": ("qcledger.cli.shopping:shopping", "Say what to look at and what to buy next."),
    "scorecard": ("qcledger.cli.scorecard:scorecard", "Write a draft of the public page."),
    "picture": ("qcledger.cli.picture:picture", "Draw statements as pictures for a video or a post."),
    "card": ("qcledger.cli.card:card", "Plan, print or look up supporters' cards of swatches."),
    "publish": (
        "qcledger.cli.publish:publish",
        "Write an edition of the public page to FILE, and record what it says.",
    ),
    "letter": (
        "qcledger.cli.letter:letter",
        "Write the letter to a MAKER, with the exact words that would be printed.",
    ),
    "corrections": (
        "qcledger.cli.corrections:corrections",
        "Tell readers, or a MAKER, what the newest edition changed.",
    ),
    "sheet": ("qcledger.cli.sheet:sheet", "Plan a run sheet with blind codes, show it, or print it."),
    "stickers": ("qcledger.cli.stickers:stickers", "Write stickers as an HTML file to print and cut up."),
    "tester": (
        "qcledger.cli.tester:tester",
        "Measure the tester: repeats, drift, control, and sessions to check.",
    ),
    "behaviour": (
        "qcledger.cli.behaviour:behaviour",
        "Say what behaves unlike its peers of other makers; for you alone.",
    ),
    "amend": ("qcledger.cli.amend:amend", "Amend what was observed, or a specimen's facts, with a reason."),
    "conditions": (
        "qcledger.cli.conditions:conditions",
        "Note or amend what a stage of a session was worked under.",
    ),
    "rubric": ("qcledger.cli.rubric:rubric", "Check a rubric and print its ladders of anchors."),
    "import": ("qcledger.cli.import_:import_", "Bring in rows from files as new entries of your daybook."),
    "imports": ("qcledger.cli.imports:imports", "List what you brought in, or take one import back."),
    "export": ("qcledger.cli.export:export", "Write the whole ledger as a folder of CSV files and photos."),
    "merge": ("qcledger.cli.merge:merge", "Take in other testers' daybooks, unchanged."),
    "zone": ("qcledger.cli.zone:zone", "Say in which time zone you work; days are told by it."),
    "same-as": (
        "qcledger.cli.same_as:same_as",
        "Say that two makers, ranges, products or sellers are one, or are not.",
    ),
    "rename": ("qcledger.cli.rename:rename", "Say what a maker, range, product or seller is called now."),
    "ask": ("qcledger.cli.ask:ask", "Keep what a maker was asked, in the exact sentences."),
    "answer": ("qcledger.cli.answer:answer", "Keep what a maker answered, or that it did not."),
    "note": ("qcledger.cli.note:note", "Write down what a reader says of a product; never counted."),
    "notes": ("qcledger.cli.notes:notes", "Bring in readers' notes from a CSV file; never counted."),
    "rate": ("qcledger.cli.rate:rate", "Keep an exchange rate with its day and source."),
    "keep-private": ("qcledger.cli.keep_private:keep_private", "Keep a finding private, with a reason."),
    "retest": ("qcledger.cli.retest:retest", "Have a finding, specimen or session tested again."),
    "correct": ("qcledger.cli.retest:correct", "Correct what was said or printed, with a reason."),
    "label": ("qcledger.cli.label:label", "Put right what a label says."),
    "redact": ("qcledger.cli.redact:redact", "Take a name, a note or a photo out of your own entries."),
    "verify": ("qcledger.cli.verify:verify", "Check every hash, every row and every photo of the ledger."),
    "backup": (
        "qcledger.cli.backup:backup",
        "Copy the ledger and its photos into a folder; verify the copy.",
    ),
    "restore": ("qcledger.cli.restore:restore", "Make a ledger again from a backup."),
}
"""Every command: where it lives, and what it does in one line."""

LEDGER_VARIABLE = "QCLEDGER_LEDGER"
"""Environment variable that names the ledger to use where `--ledger` does not."""


class LazyGroup(click.Group):
    """A group that knows its commands' names and help lines without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command, or None when there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module, _, attribute = COMMANDS[cmd_name][0].partition(":")
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that `args` name; a mistyped name is answered with the nearest one."""
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            ctx.fail(f"There is no command '{args[0]}'" + (f"; did you mean {near[0]}?" if near else "."))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="qcledger")
@click.option("--ledger", "where", metavar="PATH|URL", help="Open the pages on this ledger instead of your own.")
@click.pass_context
def program(ctx: click.Context, where: str | None) -> None:
    """Record faults of artists' materials against a rubric and see how far each one reaches.

    Without a command the pages open on your ledger.
    """
    if ctx.invoked_subcommand is None:
        from qcledger.cli.pages import open_pages

        ctx.exit(open_pages(where or os.environ.get(LEDGER_VARIABLE, "").strip() or None))
    if where is not None:
        raise click.UsageError(f"--ledger stands after the command, as in qcledger {ctx.invoked_subcommand} --ledger")


def _tell_unexpected(error: Exception) -> NoReturn:
    """Write the details of an unexpected error to the log and one line to stderr; exit with 70 (EX_SOFTWARE)."""
    from qcledger.cli.said import tell
    from qcledger.settings import error_log, log_error

    log = error_log()
    try:
        log_error(error)
        told = f"details are in {log}"
    except OSError as reason:
        told = f"details could not be kept in {log}: {reason.strerror}"
    tell(f"qcledger met an error it does not know ({type(error).__name__}); {told}", err=True)
    sys.exit(70)


def main() -> NoReturn:
    """Run the command line; every error is told in plain lines on stderr."""
    from qcledger.cli.said import tell
    from qcledger.errors import BadInput, Problem, QcledgerError

    try:
        code = program.main(standalone_mode=False, prog_name="qcledger")
    except BadInput as error:
        for line in error.lines() or [str(Problem("input", "nothing", "something to read"))]:
            tell(line, err=True)
        sys.exit(error.exit_code)
    except QcledgerError as error:
        tell(error.line(), err=True)
        sys.exit(error.exit_code)
    except click.ClickException as error:
        tell(f"{error.format_message()} (--help lists what is allowed)", err=True)
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        tell("Stopped; nothing was stored.", err=True)
        sys.exit(130)
    except BrokenPipeError:  # the reader of our output went away, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.exit(141)
    except Exception as error:
        _tell_unexpected(error)
    sys.exit(code if isinstance(code, int) else 0)
