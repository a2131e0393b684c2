"""Findings are computed once, and again when the ledger has changed."""

from threading import Event

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Comparison
from qcledger.report.kept import KeptFindings, Stopped, comparisons, photos_of
from tests.small import START, graded, small_ledger


@pytest.fixture
def small(home, tmp_path):
    return graded(small_ledger(tmp_path))


def test_findings_are_kept_until_the_ledger_changes(small):
    """The same object comes back until an entry is written, by whomever; each comparison is kept for itself."""
    kept = KeptFindings()
    with small.open() as reader:
        first = kept.findings(reader)
        assert first.findings
        assert kept.findings(reader) is first
        assert kept.findings(reader, "cp") is not first
        assert kept.findings(reader) is first
        with small.open(write=True) as writer:
            writer.append([Comparison(id="c2", title="later", question="?", started_on=START.date())])
        again = kept.findings(reader)
        assert again is not first
        assert [one.counts for one in again.findings] == [one.counts for one in first.findings]


def test_what_nobody_wants_any_more_is_not_computed(small):
    """Stopped before or on the way, nothing is kept."""
    kept, stop = KeptFindings(), Event()
    stop.set()
    with small.open() as reader:
        with pytest.raises(Stopped):
            kept.findings(reader, stop=stop)
        assert kept.findings(reader).findings


def test_comparisons_are_listed_the_latest_first(small):
    """Ids and titles."""
    with small.open(write=True) as ledger:
        ledger.append([Comparison(id="c2", title="later", question="?", started_on=START.date().replace(year=2027))])
        assert comparisons(ledger) == [("c2", "later"), ("cp", "viridian, all makers")]


def test_photos_of_a_finding_are_those_of_its_specimens_and_observations(small, tmp_path):
    """Photos of the faulty specimen come first; those of other criteria's observations are not among them."""
    from PIL import Image

    def taken(ledger: Ledger, number: int, **tied: str) -> None:
        path = tmp_path / f"{number}.png"
        Image.new("RGB", (8, 8), (number, 0, 0)).save(path)
        ledger.append([ledger.add_photo(path, caption=str(number), **tied)])

    with small.open(write=True) as ledger:
        finding = next(one for one in KeptFindings().findings(ledger).findings if one.criterion.key == "edge")
        units = [unit for lot in finding.lots for unit in lot.units]
        sound = next((unit for unit in units if not unit.faulty), units[-1])
        other = next(one for one in KeptFindings().findings(ledger).findings if one.criterion.key == "tint")
        taken(ledger, 1, specimen=sound.row.specimen)
        taken(ledger, 2, observation=units[0].row.observation)
        taken(ledger, 3, observation=other.lots[0].units[0].row.observation)
        assert {photo.caption for photo in photos_of(ledger, finding)} == {"1", "2"}
