"""``qcledger zone`` and ``start --zone``: where a tester works is recorded, listed, corrected, and asked for once."""

import pytest

from qcledger.ledger import Ledger
from qcledger.settings import default_ledger

START = ("start", "--letters", "AB", "--tester", "Ada Binder")


def names():
    """Return the zones of one's own daybook in the order they hold."""
    with Ledger.open(default_ledger()) as ledger:
        return [held.row.name for held in ledger.zones]


@pytest.mark.parametrize(("options", "name"), [((), "Etc/UTC"), (("--zone", "Asia/Kolkata"), "Asia/Kolkata")])
def test_a_ledger_begins_in_the_zone_of_the_machine_or_the_one_given(cli, tmp_path, options, name):
    """It is said, and nothing is asked afterwards."""
    begun = cli(*START, *options)
    assert (begun.code, begun.err) == (0, "")
    assert f"Days are told by {name}" in begun.out
    assert names() == [name]
    (tmp_path / "maker.csv").write_text("id,name\n,Quernlow\n", encoding="utf-8")
    brought = cli("import", tmp_path)
    assert (brought.code, brought.err) == (0, "")


@pytest.mark.parametrize("command", [(*START, "--zone", "Berlin"), ("zone", "Berlin")])
def test_a_wrong_name_is_one_line(cli, command):
    """It says what was found and what is meant; nothing is begun or recorded."""
    if command[0] == "zone":
        cli(*START)
    outcome = cli(*command)
    assert outcome.code == 2
    (line,) = outcome.error_lines
    assert "found 'Berlin'; allowed: an IANA name, as in Europe/Berlin" in line
    assert not default_ledger().exists() or names() == ["Etc/UTC"]


def test_a_machine_that_tells_no_zone_begins_without_one(cli, monkeypatch):
    """Where nobody can be asked, the ledger begins all the same, and says how to record it."""
    monkeypatch.setenv("TZ", "XYZ-7")
    begun = cli(*START)
    assert (begun.code, names()) == (0, [])
    assert "qcledger zone NAME" in begun.out
    told = cli("zone").out
    assert "No time zone is recorded: qcledger zone NAME records one" in told
    assert "This machine does not tell its time zone" in told


def test_zones_are_recorded_listed_and_corrected(cli):
    """Each from which entry on it holds; a correction takes the place of the last."""
    cli(*START)
    assert cli("zone", "Europe/Berlin").out == "Days are told by Europe/Berlin from now on\n"
    assert cli("zone", "Asia/Kolkata", "--corrects").out == "Days are told by Asia/Kolkata\n"
    assert cli("zone").out == (
        "Etc/UTC from entry 2 of your daybook on\n"
        "Asia/Kolkata from entry 3 of your daybook on\n"
        "This machine is in Etc/UTC\n"
    )
    assert cli("zone", "--corrects").error_lines[0].startswith("NAME: found nothing")
    assert cli("verify").code == 0


def test_a_command_that_writes_says_once_what_is_not_known(cli, tmp_path):
    """In one line on stderr, with how to say it, after it has done well; commands that only read say nothing."""
    place, folder = tmp_path / "old.sqlite", tmp_path / "makers"
    folder.mkdir()

    def bring_in(maker):
        (folder / "maker.csv").write_text(f"id,name\n,{maker}\n", encoding="utf-8")
        return cli("import", folder, "--ledger", place)

    Ledger.create(place, letters="OV", tester="OV").close()
    assert cli("findings", "--ledger", place).err == ""
    assert len(cli("sheet", "--poured", "OV 1", "--ledger", place).error_lines) == 1
    asked = "Mind: your time zone is not recorded; say where you work"
    assert bring_in("Quernlow").error_lines == [f"{asked}: qcledger zone NAME, as in qcledger zone Europe/Berlin"]
    assert bring_in("Drumlaw").error_lines == []
