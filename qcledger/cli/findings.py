"""``qcledger findings``: how far each fault reaches, as text, CSV or JSON, and why."""

import difflib
import os
import sys
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.text import one_line, same_name
from qcledger.vocab import Format

if TYPE_CHECKING:
    from qcledger.findings import Findings
    from qcledger.ledger import Ledger

T = TypeVar("T")

MANY = 8
"""Most names that an error lists when none is near."""


@click.command()
@ledger_option
@click.option("--criterion", metavar="KEY", help="Only this criterion, by its key or title.")
@click.option("--maker", metavar="NAME", help="Only this maker.")
@click.option(
    "--format", "format_", metavar="FORMAT", help=f"Only this format: {', '.join(Format)}, or a rubric's own."
)
@click.option("--comparison", metavar="TITLE", help="Only this comparison; without it, everything tested so far.")
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
@click.option("--columns", is_flag=True, help="Print what each column of --as csv means, and nothing else.")
@click.option("--no-wait", is_flag=True, help="Do not wait for what the pooled model has not answered yet.")
@click.option("--why", metavar="MAKER", help="The sentences about a maker, and everything that led to them.")
def findings(
    where: str | None,
    criterion: str | None,
    maker: str | None,
    format_: str | None,
    comparison: str | None,
    face: str,
    columns: bool,
    no_wait: bool,
    why: str | None,
) -> None:
    """Say which makers and formats show recurring faults.

    For each criterion, maker and format: specimens and faulty ones, lots, how far the fault reaches and how firmly
    that may be said. Gifts and older notes are shown apart and never counted.

    What the pooled model says is worked out once and kept. With --no-wait, accusations that need it read "checking".
    """
    if columns:
        from qcledger.report.frame_columns import in_csv

        tell(in_csv())
        return
    with open_ledger(where) as ledger:
        names = AskedNames.of(ledger)
        key = match("--criterion", criterion, names.criteria)
        maker_id = match("--why" if why else "--maker", why or maker, names.makers)
        if maker_id is not None and (told_now := names.now(why or maker or "", maker_id)):
            tell(told_now, err=True)
        only = match("--format", format_, names.formats)
        wanted = () if no_wait else None if key is None else (key,)
        told = of_ledger(ledger, comparison, wanted).only(criterion=key, maker=maker_id, format=only)
    tell(_face(told, face, why=bool(why), full=any((criterion, maker, format_))), nl=False, data=face != "text")


def print_findings(place: str | Path) -> None:
    """Print the findings of the ledger at `place` as text."""
    from qcledger.report import findings_text

    with open_ledger(str(place)) as ledger:
        tell("What the pooled model says is worked out once; that may take half a minute.", err=True)
        tell(findings_text(of_ledger(ledger)), nl=False)


def of_ledger(ledger: "Ledger", comparison: str | None = None, wanted: Collection[str] | None = None) -> "Findings":
    """Return the findings in a ledger; what the pooled model has not answered yet is worked out.

    Parameters
    ----------
    ledger
        An open one.
    comparison
        Title or id of the only comparison wanted.
    wanted
        Keys of the criteria to work out; None for every one.

    Raises
    ------
    BadInput
        When there is no such comparison.
    """
    from qcledger.records import Comparison
    from qcledger.report import cores, kept

    titles = {row.title: row.id for row in ledger.rows(Comparison)}
    only = comparison if comparison in titles.values() else match("--comparison", comparison, titles)
    reading = kept.KeptFindings().reading(ledger, only)
    reading.work_out(wanted, shown, processes=cores.MOST)
    return reading.whole


@dataclass(frozen=True, slots=True)
class AskedNames:
    """What may be asked for, by the names a tester types; of makers every spelling, and what each is called now."""

    criteria: Mapping[str, str]
    makers: Mapping[str, str]
    called: Mapping[str, str]
    formats: Mapping[str, str]

    @classmethod
    def of(cls, ledger: "Ledger") -> "AskedNames":
        """Return the names known to a ledger."""
        from qcledger.ledger.identity import who_is_who
        from qcledger.ledger.words import formats
        from qcledger.records import Maker, RubricText

        criteria: dict[str, str] = {}
        for kept in ledger.rows(RubricText):
            for key, one in ledger.rubric(kept.id).criteria.items():
                criteria |= {one.title: key, key: key}
        makers = who_is_who(ledger).all(Maker.TABLE)
        spelled = {name: one.id for one in makers for name in reversed(one.names)}
        with ledger.reading() as connection:
            known = formats(connection)
        return cls(criteria, spelled, {one.id: one.name for one in makers}, {one: one for one in known})

    def now(self, asked: str, maker: str) -> str:
        """Return a line that says what a maker is called now, where it was asked for by another name."""
        name = self.called[maker]
        return "" if same_name(asked) == same_name(name) else f"{one_line(asked)} is called {name} now."


def match(option: str, asked: str | None, known: Mapping[str, T]) -> T | None:
    """Return what `asked` names, letter case aside; None when nothing was asked.

    Raises
    ------
    BadInput
        With the nearest names, or with those there are.
    """
    if asked is None:
        return None
    plain = {one_line(name).casefold(): name for name in known}
    if (name := plain.get(one_line(asked).casefold())) is not None:
        return known[name]
    wanted = one_line(asked).casefold()
    holding = [name for one, name in plain.items() if wanted and wanted in one]
    near = holding[:MANY] or [plain[one] for one in difflib.get_close_matches(wanted, plain, n=3)]
    names = near or sorted(known)[:MANY]
    more = ", ..." if not near and len(known) > MANY else ""
    raise bad(option, one_line(asked), f"{', '.join(names)}{more}" if names else "nothing: the ledger holds none yet")


def _face(found: "Findings", face: str, *, why: bool, full: bool) -> str:
    from qcledger import report

    if face == "csv":
        return report.findings_csv(found)
    if face == "json":
        return report.findings_json(found)
    ink = report.ink_of(sys.stdout.encoding, os.environ)
    if why:
        return report.why_text(found.findings, ink, found.label_facts)
    return report.findings_text(found, full=full, ink=ink)
