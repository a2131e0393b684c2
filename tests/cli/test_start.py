"""A new tester begins a ledger with one command, keeps it safe, and is told plainly what does not work."""

import os
import shutil
import sys

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Maker
from qcledger.screens.actions import ACTIONS
from qcledger.screens.keys import keys_of
from qcledger.settings import default_ledger


def test_start_makes_the_default_ledger(cli):
    """`start` makes one ledger where the other commands look for it, and no second one."""
    assert cli("start", "--letters", "AB", "--tester", "Ada Binder").code == 0
    assert default_ledger().is_file()
    again = cli("start", "--letters", "AB", "--tester", "Ada Binder")
    assert (again.code, len(again.error_lines)) == (2, 1)
    assert cli("findings").code == 0


def test_start_says_what_comes_next(cli, tmp_path):
    """Which command opens the pages, on the ledger just made, and which keys begin a parcel and open the guide."""
    own = cli("start", "--letters", "AB", "--tester", "Ada Binder").out.splitlines()
    assert own[1:] == [
        "Days are told by Etc/UTC",
        "Next: qcledger opens its pages; there , then s and n begins your first parcel.",
        "On every page F9 opens the guide, ? lists the keys and ctrl-q leaves.",
    ]
    place = tmp_path / "my ledger.sqlite"
    named = cli("start", "--letters", "AB", "--tester", "Ada Binder", "--ledger", place).out
    assert f"qcledger --ledger '{place}' opens its pages" in named


def test_small_letters_become_capitals(cli):
    """Stickers of a new ledger read AB 0001, however the letters were typed."""
    assert cli("start", "--letters", "ab", "--tester", "Ada Binder").code == 0
    with Ledger.open(default_ledger(), write=True) as ledger:
        assert ledger.daybook.letters == "AB"


def test_a_name_is_kept_without_what_steers_a_terminal(cli):
    """An escape character pasted with the name is left out, as of every other text."""
    assert cli("start", "--letters", "AB", "--tester", "Ada \x1b[31mBinder\n").code == 0
    with Ledger.open(default_ledger(), write=True) as ledger:
        assert ledger.daybook.tester == "Ada [31mBinder"


def test_the_keys_that_start_names_do_what_it_says():
    """A comma, then s opens Stock, n there enters a parcel, and F9, ? and ctrl-q mean the same on every page."""
    told = {
        "any.go": "comma",
        "go.stock": "s",
        "stock.parcel": "n",
        "any.guide": "f9",
        "any.help": "?",
        "any.quit": "ctrl+q",
    }
    assert {action.id: told[action.id] for action in ACTIONS if told.get(action.id) in keys_of(action, {})} == told


@pytest.mark.parametrize(
    ("letters", "tester", "told"),
    [
        ("abcde", "Ada", "'abcde'"),
        ("ABCDE", "Ada", "'ABCDE'"),
        ("", "Ada", "letters"),
        ("A1", "Ada", "'A1'"),
        ("AB", " \x1b ", "--tester"),
    ],
)
def test_wrong_letters_and_names_are_refused(cli, letters, tester, told):
    """One line names the option, what was found and what is allowed; no ledger is made."""
    refused = cli("start", "--letters", letters, "--tester", tester)
    assert refused.code == 2
    assert len(refused.error_lines) == 1
    assert told in refused.err
    assert not default_ledger().exists()


@pytest.mark.parametrize(
    "command", [["findings"], ["export", "out"], ["merge", "in"], ["verify"], ["backup", "to"]], ids=lambda c: c[0]
)
def test_without_a_ledger_the_next_step_is_told(cli, command, tmp_path, monkeypatch):
    """Commands that need a ledger say in one line how to begin one, and make nothing."""
    monkeypatch.chdir(tmp_path)
    refused = cli(*command)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert "qcledger start" in refused.err
    assert list(tmp_path.iterdir()) == []


def test_mistyped_commands_and_options_are_answered_with_what_there_is(cli):
    """A near name is offered; the exit code is 2."""
    assert "did you mean findings" in cli("findngs").err
    assert cli("findngs").code == 2
    assert cli("findings", "--criterium", "x").code == 2


def test_backup_verify_restore(cli, tmp_path):
    """A ledger comes back whole from its backup, and what is not as it was written is named with exit code 1."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    with Ledger.open(default_ledger(), write=True) as ledger:
        ledger.append([Maker(id="m", name="Nimwell")])
        closing = ledger.closing_hashes()
    assert "verified" in cli("backup", tmp_path / "safe").out
    shutil.rmtree(default_ledger().parent)
    assert cli("restore", tmp_path / "safe").code == 0
    assert cli("verify").code == 0
    with Ledger.open(default_ledger()) as ledger:
        assert ledger.closing_hashes() == closing
    damaged = default_ledger().read_bytes().replace(b"Nimwell", b"Nimbell")
    default_ledger().write_bytes(damaged)
    verified = cli("verify")
    assert verified.code == 1
    assert verified.error_lines
    assert "Traceback" not in verified.err


def test_an_empty_ledger_name_is_not_ones_own_ledger(cli, tmp_path):
    """`--ledger ""`, as an unset variable of a script gives it, is refused."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    refused = cli("merge", tmp_path, "--ledger", "")
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert "--ledger" in refused.err


def test_a_published_closing_hash_is_checked(cli):
    """`verify --closing` finds the entry that was published, and names a daybook that tells another story."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    with Ledger.open(default_ledger(), write=True) as ledger:
        ledger.append([Maker(id="m", name="Nimwell")])
        ((daybook, (number, digest)),) = ledger.closing_hashes().items()
        ledger.append([Maker(id="n", name="Halcyre")])
    sound = cli("verify", "--closing", f"{daybook}:{number}:{digest.upper()}")
    assert sound.code == 0
    assert f"Entry {number} of daybook {daybook} is as published." in sound.out
    for wrong in (f"{daybook}:{number + 1}:{digest}", f"{daybook}:{number}:{'0' * 64}", f"other:1:{digest}"):
        refused = cli("verify", "--closing", wrong)
        assert (refused.code, len(refused.error_lines)) == (1, 1)
        assert "a report's closing hash" in refused.err


@pytest.mark.parametrize(
    "given",
    [
        "",
        "x",
        "a:1:abc",
        f"a:0:{'0' * 64}",
        f"a:{'9' * 30}:{'0' * 64}",
        f"a:-1:{'0' * 64}",
        f"a:1:{'g' * 64}",
        f":1:{'0' * 64}",
    ],
)
def test_what_is_no_closing_hash_is_refused(cli, given):
    """Its three parts are told in one line."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    refused = cli("verify", "--closing", given)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert "DAYBOOK:NUMBER:HASH" in refused.err


def test_one_daybook_has_one_closing_hash(cli):
    """Two hashes of one daybook at a time are refused, not one of them forgotten."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    one = f"a:1:{'0' * 64}"
    assert "each daybook once" in cli("verify", "--closing", one, "--closing", one).err


@pytest.mark.skipif(sys.platform != "linux", reason="other systems take no such names")
@pytest.mark.parametrize(
    "args",
    [
        ("export", b"out\xff"),
        ("backup", b"out\xff"),
        ("restore", b"out\xff"),
        ("merge", b"out\xff"),
        ("import", b"old\xff.csv"),
        ("import", b"old.csv", b"--map", b"m\xff"),
        ("findings", b"--ledger", b"\xff"),
        ("sheet", b"S01", b"--print", b"\xff"),
    ],
    ids=lambda args: args[0],
)
def test_a_path_that_is_no_text_is_refused_at_once(cli, tmp_path, monkeypatch, args):
    """Before a ledger is opened, one line names the option; nothing is written."""
    monkeypatch.chdir(tmp_path)
    refused = cli(args[0], *map(os.fsdecode, args[1:]))
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert "a path in UTF-8" in refused.err
    assert list(tmp_path.iterdir()) == []


def unwritable(home):
    """Put a file where the settings' folder of what is remembered should be, so that nobody, not even root, can."""
    shutil.rmtree(home / "daybooks", ignore_errors=True)
    (home / "daybooks").write_text("in the way")


def test_start_without_settings_that_can_be_written_leaves_nothing(cli, home, tmp_path):
    """A ledger whose daybook cannot be remembered is not made: neither its file, nor a folder for it."""
    unwritable(home)
    before = sorted([*home.rglob("*"), *tmp_path.rglob("*")])
    for where in ((), ("--ledger", tmp_path / "l.sqlite")):
        refused = cli("start", "--letters", "AB", "--tester", "Ada", *where)
        assert (refused.code, len(refused.error_lines)) == (2, 1)
        assert f"Cannot write {home / 'daybooks'}" in refused.err
        assert sorted([*home.rglob("*"), *tmp_path.rglob("*")]) == before


def test_start_without_a_data_folder_is_one_line(cli, home, monkeypatch):
    """A data folder that cannot be made is named in one line."""
    (home / "file").write_text("x")
    monkeypatch.setenv("QCLEDGER_HOME", str(home / "file"))
    refused = cli("start", "--letters", "AB", "--tester", "Ada")
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert f"Cannot make {home / 'file' / 'ledger'}" in refused.err


def test_an_import_that_cannot_be_remembered_stores_nothing(cli, home, tmp_path):
    """Rows are stored with what is remembered of their daybook, or not at all; findings and verify still run."""
    place = tmp_path / "l.sqlite"
    cli("start", "--letters", "AB", "--tester", "Ada", "--ledger", place)
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "maker.csv").write_text("name\nQuernlow\n")
    unwritable(home)
    before = place.read_bytes()
    refused = cli("import", tmp_path / "in", "--ledger", place)
    assert (refused.code, refused.out, len(refused.error_lines)) == (2, "", 1)
    assert "nothing was saved" in refused.err
    assert place.read_bytes() == before
    for command in ("verify", "findings", "tester"):
        assert cli(command, "--ledger", place).code == 0
    assert place.read_bytes() == before
    assert [path.name for path in home.iterdir()] == ["daybooks"]


def test_a_restore_that_was_cut_short_is_finished_or_cleaned_by_command(cli, tmp_path):
    """The next command says what happened and how to go on; --finish restores, --clean leaves the place free."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    cli("backup", tmp_path / "safe")
    place = default_ledger()
    place.unlink()
    left = place.with_name(f".{place.name}.restoring")
    left.mkdir()
    refused = cli("restore", tmp_path / "safe")
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert "`qcledger restore` with --finish or --clean" in refused.err
    assert cli("restore", "--clean", "--finish").code == 2
    assert cli("restore").code == 2
    assert cli("restore", "--clean").out == "What a restore had left was taken away.\n"
    assert cli("restore", "--clean").out == "No restore to this place was cut short.\n"
    left.mkdir()
    assert cli("restore", tmp_path / "safe", "--finish").out == f"Restored: {place}\n"
    assert not left.exists()
    assert cli("verify").code == 0
