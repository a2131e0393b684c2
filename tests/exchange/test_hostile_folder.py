"""A folder from somebody else reaches nothing but the ledger it is merged into."""

import hashlib
import json
import sqlite3
from contextlib import closing

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import codec, csvfile, merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Entry, Maker, Photo, columns
from tests.exchange.made import full, picture
from tests.ledger.test_merge import resealed

OUTSIDE = "holiday"


def path_of_64(depth):
    """Return a relative path of 64 characters that leads from a photo folder to a file beside the ledger's folder."""
    tail = "../" * depth + OUTSIDE
    return "./" * ((64 - len(tail)) // 2) + "/" * ((64 - len(tail)) % 2) + tail


def put_entries(folder, chain):
    """Let an exported folder hold this chain alone, with its manifest put right."""
    header = [column.name for column in columns(Entry)]
    text = "".join(csvfile.line(cells) for cells in [header, *map(codec.cells, chain)])
    (folder / "entries.csv").write_text(text, encoding="utf-8", newline="")
    told = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    told["files"]["entries.csv"]["sha256"] = hashlib.sha256(text.encode()).hexdigest()
    told["closing"] = {chain[-1].daybook: {"seq": chain[-1].seq, "hash": chain[-1].hash}}
    (folder / "manifest.json").write_text(json.dumps(told), encoding="utf-8")


@pytest.fixture
def chain(tmp_path):
    """Return another tester's entries; their folder is ``out``."""
    with Ledger.create(tmp_path / "theirs.sqlite", letters="TL", tester="Tam Lark", daybook="theirs") as theirs:
        theirs.append([Maker(id="m", name="Drumlaw")])
        to_folder(theirs, tmp_path / "out")
        return list(theirs.entries())


@pytest.fixture
def mine(tmp_path):
    """Return a ledger in a folder of its own, with a photo filed beside it."""
    (tmp_path / "mine").mkdir()
    with full(tmp_path / "mine" / "ledger.sqlite") as made:
        yield made


def bodies():
    """Yield kind, id and fields of rows whose photo's name leads to the file ``holiday.jpg`` elsewhere."""
    name = path_of_64(2)
    assert len(name) == 64
    yield "redaction", "r", {"photo": name, "reason": "a face in it"}
    yield "redaction", "r", {"entry": name, "reason": "a name in it"}
    yield "redaction", "r", {"photo": "A" * 64, "reason": "a hash in another case"}
    yield "photo", "p", {"sha256": name, "kind": "jpg", "width": 1, "height": 1, "caption": ""}


@pytest.mark.parametrize(("kind", "subject", "fields"), list(bodies()))
def test_a_photos_name_leads_nowhere_else(chain, mine, tmp_path, kind, subject, fields):
    """A photo named by a path is refused with its folder; the file it names stays, and no entry came in."""
    kept = picture(tmp_path / f"{OUTSIDE}.png").rename(tmp_path / f"{OUTSIDE}.jpg")
    assert (mine.photos / f"{path_of_64(2)}.jpg").samefile(kept)
    body = json.dumps({"reason": "", "record": {"id": subject, **fields}}, sort_keys=True, separators=(",", ":"))
    put_entries(tmp_path / "out", resealed(chain, kind, subject, body))
    before = mine.closing_hashes()
    with pytest.raises(BadInput, match="64 hexadecimal digits in lower case"):
        merge_folder(mine, tmp_path / "out")
    assert kept.is_file()
    assert mine.closing_hashes() == before


def test_a_name_written_past_the_door_removes_nothing(mine, tmp_path):
    """A redaction that was put into the tables with SQL names a file elsewhere: it stays, and `verify` says so."""
    kept = picture(tmp_path / f"{OUTSIDE}.png").rename(tmp_path / f"{OUTSIDE}.jpg")
    with closing(sqlite3.connect(mine.where)) as database:
        database.execute(
            "INSERT INTO redaction (id, daybook, reason, photo) VALUES ('x', 'x', 'x', ?)", (path_of_64(2),)
        )
        database.execute("UPDATE photo SET sha256 = ? WHERE caption = '=front'", (path_of_64(2),))
        database.commit()
    shown = next(photo for photo in mine.rows(Photo) if photo.caption == "=front")
    with pytest.raises(BadInput, match="64 hexadecimal digits in lower case"):
        mine.photo_path(shown)
    other = mine.add_photo(picture(tmp_path / "face.png", "#402010"))
    mine.redact(photo=other.sha256, reason="a face in it")
    assert not mine.photo_path(other).exists()
    assert kept.is_file()
    assert any("a name that is no hash and kind" in str(problem) for problem in mine.verify())
