"""Filing a picture beside what it shows, taking that back, and moving it where it was filed with something else."""

from collections.abc import Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from qcledger.bench.amending import load
from qcledger.bench.newest import PictureFile
from qcledger.bench.scales import scales
from qcledger.bench.unpacking import check_in_stock, find_sticker
from qcledger.errors import BadInput, NotConfirmed, Problem, bad
from qcledger.files import digest_of
from qcledger.records import Decision, Observation, Photo, Redaction, Specimen, Trial
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK, DecisionKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from qcledger.ledger import Ledger
    from qcledger.ledger.photos import Picture as Read

AGAIN: Final = "filed again"
"""The reason of a photo's entry when its filing was taken back before, or its picture taken out."""
WHY_MOVED: Final[Mapping[str, str]] = {"w": "filed in the wrong place", "s": "it shows another specimen"}
"""Why a photo is moved, by the key that says so; the first is the usual one."""
_LONGEST: Final = 200
"""Characters of a file name that are kept."""


def belongs(photo: Photo) -> bool:
    """Say whether a photo is filed with anything; one whose filing was taken back is not."""
    return photo.specimen is not None or photo.observation is not None


def take_back(ledger: "Ledger", photo: Photo) -> bool:
    """Let a photo belong to nothing any more, if it still is as it was filed; its picture is kept."""
    stands = ledger.get(Photo, photo.id) == photo
    if stands:
        ledger.append([replace(photo, specimen=None, observation=None)], reason=TAKEN_BACK)
    return stands


def where_words(ledger: "Ledger", photo: Photo, *, codes: bool = True, day: bool = False) -> str:
    """Return what a photo is filed with: ``Edge of OV 0002 (S04)``, a sticker alone, or nothing.

    In a session that is still blind the code stands for the specimen; without `codes`, where a specimen is named
    beside it, the session alone. With `day`, and outside sessions, the day it was seen stands there, too.
    """
    from qcledger.ledger.queries_record import standing_lines

    if photo.observation is not None:
        with ledger.reading() as connection:
            line = next(iter(standing_lines(connection, [photo.observation])), None)
        if line is not None:
            seen = line.observation
            criterion = scales(ledger).get((seen.rubric, seen.criterion))
            title = criterion.title if criterion else seen.criterion
            if line.blind and not codes:
                return f"a place of session {line.session}, which is still blind"
            on = ledger.day_of(seen, seen.at) if day or not line.session else ""
            return f"{title} of {line.sticker} ({', '.join(filter(None, (line.session or line.occasion, str(on))))})"
    one = ledger.get(Specimen, photo.specimen) if photo.specimen is not None else None
    return one.sticker if one is not None else "nothing"


def same_place(ledger: "Ledger", one: Photo, other: Photo) -> bool:
    """Say whether two photos are filed with the same thing: a piece, or what stands at one place, amended or not."""
    return _place(ledger, one) == _place(ledger, other)


def _place(ledger: "Ledger", photo: Photo) -> tuple[str, str | None]:
    from qcledger.ledger.queries_record import chain

    if photo.observation is None:
        return Specimen.TABLE, photo.specimen
    with ledger.reading() as connection:
        first = next(iter(chain(connection, photo.observation)), None)
    return Observation.TABLE, first.id if first is not None else photo.observation


def where_seen_from(ledger: "Ledger", photo: Photo, seen: Observation) -> str:
    """Return what a photo is filed with, as it may stand beside an observation.

    A code is told beside a place of its own session alone; beside any other it would stand next to a sticker.
    """
    there = ledger.get(Observation, photo.observation) if photo.observation is not None else None
    trials = [ledger.get(Trial, one.trial) for one in (seen, there) if one is not None]
    told = {trial.session for trial in trials if trial is not None}
    return where_words(ledger, photo, codes=len(trials) == 2 and len(told) == 1)


# Filing


@dataclass(frozen=True, slots=True)
class FilingPlan:
    """What filing a picture comes to.

    Parameters
    ----------
    picture
        The file.
    photo
        The row it is filed under again; None for a picture that was never filed by this tester.
    lifting
        Own redactions of it, which are void once it is filed again.
    """

    picture: PictureFile
    photo: Photo | None
    lifting: Sequence[Redaction] = ()


def check(ledger: "Ledger", picture: PictureFile, specimen: str, observation: str | None) -> None:
    """Refuse what `file_picture` would refuse of a picture and what it is to be filed with; nothing is written."""
    from qcledger.ledger.photos import read_picture

    found = _weigh(ledger, picture, specimen=specimen, observation=observation, caption="")
    if found.photo is None or found.lifting:
        read_picture(picture.path, ledger.zone)


def _weigh(
    ledger: "Ledger", picture: PictureFile, *, specimen: str, observation: str | None, caption: str
) -> FilingPlan:
    """Return what filing a picture comes to; nothing is written. Raises BadInput where it is filed with something."""
    from qcledger.ledger.photos import ALLOWED, MOST_BYTES

    _check_in_stock(ledger, specimen, observation)
    sha256 = digest_of(picture.path, ALLOWED, most=MOST_BYTES)
    known = ledger.rows(Photo, sha256=sha256)
    gone = bool(known) and _is_gone(ledger, sha256)
    filed = next((photo for photo in known if belongs(photo) and not gone), None)
    if filed is not None:
        raise _filed_already(ledger, picture, filed)
    own = ledger.own(Photo) if known else frozenset()
    row = next((photo for photo in known if photo.id in own), None)
    if row is None:
        return FilingPlan(picture, None)
    name = one_line(picture.path.name)[:_LONGEST] or None
    placed = replace(
        row, specimen=specimen, observation=observation, caption=caption, file_name=row.file_name or name
    )
    return FilingPlan(picture, placed, _redactions(ledger, sha256) if gone else ())


def _is_gone(ledger: "Ledger", sha256: str) -> bool:
    """Say whether a picture was taken out, by everybody who filed it."""
    from qcledger.ledger.redact import redacted_photos

    with ledger.reading() as connection:
        return sha256 in redacted_photos(connection)


def _check_in_stock(ledger: "Ledger", specimen: str, observation: str | None) -> None:
    """Refuse a piece itself that was taken out; where something was observed, none is."""
    one = ledger.get(Specimen, specimen) if observation is None else None
    if one is not None:
        check_in_stock(ledger, one)


def _filed_already(ledger: "Ledger", picture: PictureFile, photo: Photo) -> BadInput:
    where, made_by = where_words(ledger, photo), ledger.made_by(Photo, photo.id)
    way = f"{made_by} alone moves it" if made_by else "m there, or qcledger amend --photo --move, moves it"
    return bad("picture", f"{picture.path.name}, filed already", f"a new one; it is with {where}: {way}")


def _redactions(ledger: "Ledger", sha256: str) -> list[Redaction]:
    """Return this tester's redactions of a picture that hold."""
    own = ledger.own(Redaction)
    decided = ledger.rows(Decision, subject_table=Redaction.TABLE)
    void = {one.subject for one in decided if one.kind is DecisionKind.VOID}
    return [one for one in ledger.rows(Redaction, photo=sha256) if one.id in own - void]


def file_picture(
    ledger: "Ledger", picture: PictureFile, *, specimen: str, observation: str | None, caption: str = ""
) -> Photo:
    """File a picture with a specimen and, if there is one, an observation.

    A picture that belongs to nothing, or that was taken out, is filed again under its own row.

    Raises
    ------
    BadInput
        When the same picture is filed with something, and then with what; or it is none that may be filed.
    """
    filing = _weigh(ledger, picture, specimen=specimen, observation=observation, caption=caption)
    if filing.photo is None:
        return ledger.add_photo(picture.path, specimen=specimen, observation=observation, caption=caption)
    if not filing.lifting:
        ledger.append([filing.photo], reason=AGAIN)
        return filing.photo
    with _bytes_back(ledger, filing):
        ledger.append([*(_lifted(ledger, one) for one in filing.lifting), filing.photo], reason=AGAIN)
    return filing.photo


def _lifted(ledger: "Ledger", redaction: Redaction) -> Decision:
    """Return the decision that a picture which was taken out is filed again."""
    return Decision(
        id=ledger.new_id(),
        kind=DecisionKind.VOID,
        subject_table=Redaction.TABLE,
        subject=redaction.id,
        by=ledger.daybook.tester,
        on=ledger.day(),
        reason=AGAIN,
    )


@contextmanager
def _bytes_back(ledger: "Ledger", filing: FilingPlan) -> "Iterator[None]":
    """File the bytes of a picture that were taken out; should the work inside fail, take them out again."""
    from qcledger.ledger import photos
    from qcledger.ledger.told import told

    read: Read = photos.read_picture(filing.picture.path)
    with told(filing.picture.path.name):
        photos.file_picture(read, ledger.photos)
    try:
        yield
    except NotConfirmed:  # the rows may be on the disk, and then they need their bytes
        raise
    except BaseException:
        photos.remove(ledger.photos, read.sha256)
        raise


# Moving


@dataclass(frozen=True, slots=True)
class Move:
    """A photo as it is filed and as it is to be, and both places in words."""

    before: Photo
    after: Photo
    then: str
    now: str

    @property
    def words(self) -> str:
        """What is moved, from where and to where, on one line."""
        return f"{called(self.before)} from {self.then} to {self.now}"


def called(photo: Photo) -> str:
    """Return what a photo is called: its file's name, else the beginning of its hash."""
    return photo.file_name or f"photo {photo.sha256[:12]}"


def place(ledger: "Ledger", name: str, criterion: str, session: str = "", day: str = "") -> tuple[str, str | None]:
    """Return the specimen, and the observation if a criterion is given, that a photo is to be filed with.

    Parameters
    ----------
    ledger
        An open one.
    name
        A sticker; with the code of a blind session, a code of its sheet.
    criterion
        Title or key of a criterion; empty: the specimen itself.
    session
        The code of a session, where it was judged in several.
    day
        The day it was judged, as 2026-03-09, where it was on several.

    Raises
    ------
    BadInput
        When there is none, or there are several.
    """
    from qcledger.bench.found import find

    if not one_line(criterion):
        if one_line(session):
            raise bad("session", session, "none without a criterion")
        if one_line(day):
            raise bad("--day", day, "none without a criterion")
        return find_sticker(ledger, name), None
    found = load(ledger, find(ledger, name, criterion, session, one_line(day)))
    return found.specimen, found.observation.id


def weigh_move(ledger: "Ledger", photo: Photo, specimen: str, observation: str | None) -> Move:
    """Return what moving a photo comes to; nothing is written.

    A caption that only names what was judged goes with the place.

    Raises
    ------
    BadInput
        When it is another tester's, its picture or that piece was taken out, or it is filed there already.
    """
    if made_by := ledger.made_by(Photo, photo.id):
        raise bad(called(photo), f"a photo of {made_by}", "one of your own: only its tester moves it")
    if _is_gone(ledger, photo.sha256):
        raise bad(called(photo), "a picture that was taken out", "one that is kept; filed anew, it goes anywhere")
    _check_in_stock(ledger, specimen, observation)
    there = load(ledger, observation).criterion.title if observation is not None else ""
    here = _title(ledger, photo.observation)
    caption = there if photo.caption in ("", here) else photo.caption
    after = replace(photo, specimen=specimen, observation=observation, caption=caption)
    then, now = where_words(ledger, photo), where_words(ledger, after)
    if same_place(ledger, photo, after):
        raise bad(called(photo), f"with {now} already", "another place")
    if then == now:  # two results of one session
        then, now = where_words(ledger, photo, day=True), where_words(ledger, after, day=True)
    return Move(photo, after, then, now)


def _title(ledger: "Ledger", observation: str | None) -> str:
    known = observation is not None and ledger.get(Observation, observation) is not None
    return load(ledger, observation).criterion.title if known and observation is not None else ""


def check_move(ledger: "Ledger", move: Move, reason: str) -> None:
    """Refuse a move without a reason, or of a photo that was filed anew meanwhile."""
    if not one_line(reason):
        raise bad("reason", reason, "why it is moved")
    if ledger.get(Photo, move.before.id) != move.before:
        raise BadInput(Problem(called(move.before), "filed anew meanwhile", "a look at it, then the same again"))


def move(ledger: "Ledger", moved: Move, reason: str) -> None:
    """Move a photo, its bytes untouched; raises BadInput as `check_move` does."""
    check_move(ledger, moved, reason)
    ledger.append([moved.after], reason=one_line(reason))


def photo_of(ledger: "Ledger", picture: PictureFile) -> Photo:
    """Return the photo that a file is filed as, one's own first; raises BadInput where it is filed with nothing."""
    from qcledger.ledger.photos import ALLOWED, MOST_BYTES

    known = ledger.rows(Photo, sha256=digest_of(picture.path, ALLOWED, most=MOST_BYTES))
    filed = [photo for photo in known if belongs(photo)]
    if not filed:
        raise bad("--photo", f"{picture.path.name}, not filed yet", "a picture that is filed, or none of --move")
    own = ledger.own(Photo)
    return next((photo for photo in filed if photo.id in own), filed[0])
