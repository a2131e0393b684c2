"""What 0.1.0 wrote opens, is upgraded with the same entries, and gives the findings it gave then."""

import gzip
import json
import shutil
from pathlib import Path

import pytest

from qcledger.exchange import merge_folder
from qcledger.ledger import Ledger
from qcledger.ledger.connect import VERSION, home
from qcledger.vocab import Standing
from tests.ledger.given import everything

KEPT = Path(__file__).with_name("version_0_1_0")
"""A ledger with amendments, a redaction, an import, another tester's daybook and a third begun after a restore; the
same as a folder; the other tester's own folder; and the findings that program printed."""


@pytest.fixture
def old(tmp_path):
    """Return the place of a copy of the ledger, its photos beside it."""
    place = tmp_path / "ledger.sqlite"
    place.write_bytes(gzip.decompress((KEPT / "ledger.sqlite.gz").read_bytes()))
    shutil.copytree(KEPT / "photos", tmp_path / "photos")
    return place


@pytest.fixture
def fresh(tmp_path):
    """Return the place of an empty ledger."""
    place = tmp_path / "fresh.sqlite"
    Ledger.create(place, letters="ME", tester="Me").close()
    return place


def hashes(ledger):
    """Return the hash of every entry of what 0.1.0 wrote."""
    return {(entry.daybook, entry.seq): entry.hash for entry in ledger.entries() if entry.daybook[:2] in OF}


OF = ("id", "tl", "re")
"""How the ids of the daybooks begin: the tester's, the other tester's, and the tester's second."""


OTHERWISE = {"sentence", "would_settle", "checks", "fair_fields", "fair_fields_as_strong"}
"""What is worded, asked for, or drawn otherwise since: fair fields are drawn from a field fitted with more draws."""


def told(text):
    """Return counts, limits and standings as they are printed, in an order of their own.

    Left out are the keys that 0.1.0 did not print, and `OTHERWISE`; a standing is read in the words of either.
    """
    kept = {key for one in json.loads((KEPT / "findings.json").read_text())["findings"] for key in one} - OTHERWISE
    found = [{key: one[key] for key in sorted(kept & set(one))} for one in json.loads(text)["findings"]]
    for one in found:
        one["standing"] = Standing(one["standing"]).name_for_files
    return sorted(json.dumps(one, sort_keys=True) for one in found)


def test_a_ledger_of_0_1_0_is_upgraded_and_finds_the_same(old, cli):
    """Its tables become this version's, no hash changes, all verifies, and each finding is what it was."""
    before = told((KEPT / "findings.json").read_text())
    assert told(cli("findings", "--ledger", old, "--as", "json").out) == before
    assert home(old).version() == VERSION
    with Ledger.open(old) as ledger:
        assert ledger.verify() == []
        written = manifest_hashes()
        assert {key: value for key, value in ledger.closing_hashes().items() if key in written} == written


def manifest_hashes():
    """Return the closing hashes that 0.1.0 printed into the folder's manifest."""
    closing = json.loads((KEPT / "folder" / "manifest.json").read_text())["closing"]
    return {daybook: (last["seq"], last["hash"]) for daybook, last in closing.items()}


def test_a_folder_of_0_1_0_merges_and_finds_the_same(fresh, old, cli):
    """Its entries are taken in word for word; the tables are those of the upgraded ledger."""
    with Ledger.open(fresh, write=True) as ledger, Ledger.open(old) as upgraded:
        merge_folder(ledger, KEPT / "folder")
        assert hashes(ledger) == hashes(upgraded)
        rows, wanted = everything(ledger), everything(upgraded)
        assert {kind: found for kind, found in rows.items() if kind != "daybook"} == {
            kind: found for kind, found in wanted.items() if kind != "daybook"
        }
        assert merge_folder(ledger, KEPT / "guest") == 0
        assert ledger.verify() == []
    before = told((KEPT / "findings.json").read_text())
    assert told(cli("findings", "--ledger", fresh, "--as", "json").out) == before


def test_what_another_tester_amended_then_is_a_proposal_now(old):
    """A row of the guest's that the host wrote again stands as the guest had it; what the host says of it is kept."""
    with Ledger.open(old) as ledger:
        said = {(one.kind, one.subject): [side.says for side in one.sides] for one in ledger.disputes()}
    assert said == {("specimen", "TL-sp-3"): ["note nothing", "note seen by both"]}
