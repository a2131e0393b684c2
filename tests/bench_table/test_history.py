"""The history of a specimen: what was found on it, in time, with its photos."""

from qcledger.bench import history
from qcledger.ledger import Ledger
from qcledger.records import Photo


def test_no_photo_is_fetched_before_it_is_looked_at(demo_file, monkeypatch):
    """Where photos lie on a server, opening a history asks for none of their bytes; they stand in it in time."""
    with Ledger.open(demo_file) as ledger:
        specimen = next(row.specimen for row in ledger.rows(Photo) if row.specimen)
        monkeypatch.setattr(Ledger, "photo_path", lambda *_, **__: 1 / 0)
        found = history.load(ledger, specimen)
    assert found.pictures
    taken = [photo.taken_at for photo in found.in_time if photo.taken_at]
    assert taken == sorted(taken)
