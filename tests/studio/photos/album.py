"""Which photos the studio took: of what, when, and how each is drawn."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from functools import partial
from pathlib import Path

import numpy as np
from PIL import ExifTags, Image

from qcledger.records import Observation
from tests.studio.chance import ident, stream
from tests.studio.diary import OWNER, Page, Shot
from tests.studio.makers import HALF, STICK, TUBE
from tests.studio.photos import pans, sheets, tubes
from tests.studio.photos.light import Field, developed
from tests.studio.photos.paper import Wash, swatches
from tests.studio.purchases import CONTROL, PIECES, Piece
from tests.studio.scales import drawn_as
from tests.studio.sessions import places
from tests.studio.unpacking import specimen_id, trial_id

QUALITIES = (64, 56, 48, 40)
"""JPEG qualities to try, the first that stays under `MOST_BYTES`: small files that still show the grain of paper."""
MOST_BYTES = 40_000

Draw = Callable[[Piece, np.random.Generator], Field]


@dataclass(frozen=True, slots=True)
class Picture:
    """One kind of photo: of which pieces, at which criterion, at the bench of a session or (None) at unpacking."""

    key: str
    pieces: tuple[Piece, ...]
    draw: Draw
    caption: str
    session: str | None = None
    warm: float = 0.0


def _some(maker: str, name: str, form: str = "", lot: str = "", session: str | None = None) -> tuple[Piece, ...]:
    """Return the pieces of a paint, in the order of their stickers."""
    return tuple(
        piece
        for piece in PIECES
        if (piece.colour.maker, piece.colour.name) == (maker, name)
        and form in ("", piece.format)
        and lot in ("", piece.lot)
        and session in (None, piece.session)
        and piece.parcel not in {"OLD", "G7", "GIFT"}
    )


def wash(piece: Piece, strength: float = 0.95, grain: float | None = None) -> Wash:
    """Return the wash a piece makes: its shade, its pigment's grain."""
    usual = piece.colour.traits.granulation / 5
    return Wash(piece.colour.shade, strength, max(usual - 0.1, 0.03) if grain is None else grain)


def _code(piece: Piece, session: str) -> str:
    return next(str(place.row.code) for place in places(session) if place.piece is piece)


def _wrapper(share: float) -> Draw:
    return lambda piece, chance: pans.wrapped(piece.colour.shade, chance, share)


def _beside(session: str, other: Piece, mine: float, theirs: float) -> Draw:
    """Return a drawing of a piece's swatch beside another maker's of the same sheet."""
    return lambda piece, chance: swatches(
        [(_code(piece, session), wash(piece, mine)), (_code(other, session), wash(other, theirs))], chance
    )


def _lifted(session: str, other: Piece) -> Draw:
    return lambda piece, chance: swatches(
        [(_code(piece, session), wash(piece)), (_code(other, session), wash(other))], chance, lifted=True
    )


def _over_line(session: str, other: Piece) -> Draw:
    return lambda piece, chance: swatches(
        [(_code(piece, session), wash(piece, 0.9)), (_code(other, session), wash(other, 1.9))], chance, line=True
    )


def _control(grain: float) -> Draw:
    return lambda piece, chance: swatches([(f"control {piece.lot}", wash(piece, 0.8, grain))], chance)


def _sheet(session: str) -> Draw:
    def draw(piece: Piece, chance: np.random.Generator) -> Field:
        cells = []
        for place in places(session):
            strength = 0.35 if place.piece.colour.maker == "Corvannet" else 0.9
            cells.append((str(place.row.code), wash(place.piece, strength)))
        return sheets.whole_sheet(cells, chance)

    return draw


def _label(piece: Piece, chance: np.random.Generator) -> Field:
    colour = piece.colour
    small = ["gum arabic, water, preservative", "Keep out of reach of children."]
    small += ["Pigment: chlorinated copper", "phthalocyanine"]
    return sheets.label(colour.name, colour.shade, [colour.pigment, f"10 ml    lot {piece.lot}"], small, chance)


def _pan(piece: Piece, chance: np.random.Generator) -> Field:
    return pans.pan(piece.colour.shade, chance)[0]


def _shade(draw: Callable[..., Field], *more: float) -> Draw:
    """Return a drawing that needs a piece's shade only, with `more` arguments."""
    return lambda piece, chance: draw(piece.colour.shade, chance, *more)


def _bubbled(piece: Piece, chance: np.random.Generator) -> Field:
    return sheets.bubbled(wash(piece), chance, 70)


_CRUMBS = partial(pans.cracked, crumbs=40)
_WHOLE_CRACKS = partial(pans.cracked, crumbs=0)


def _album() -> Iterator[Picture]:
    """Yield the photos; the grades they show are those of `truths`."""
    yield from _wrappers()
    yield from _others_unpacked()
    yield from _at_the_bench()
    yield from _controls()


def _wrappers() -> Iterator[Picture]:
    ochre, rust = _some("Trellmere", "Ochre", HALF), _some("Trellmere", "Rust", HALF)
    brick, blue = _some("Trellmere", "Brick", HALF), _some("Trellmere", "Quay Blue", HALF)
    part, most = (ochre[0], brick[0], blue[2]), (ochre[2], rust[1], blue[0], blue[1])
    clean = (_some("Aldervane", "Ochre", HALF)[0], _some("Drumlaw", "Red Oxide", HALF)[0])
    yield Picture("wrapper_adhesion", part, _wrapper(0.38), "wrapper on part of the face")
    yield Picture("wrapper_adhesion", most, _wrapper(0.85), "wrapper on most of the face")
    yield Picture("wrapper_adhesion", clean, _pan, "wrapper came off clean")


def _others_unpacked() -> Iterator[Picture]:
    bad, first = _some("Quernlow", "Kiln Red", lot="Q4471"), _some("Quernlow", "Kiln Red", lot="Q4468")[:1]
    again = _some("Quernlow", "Kiln Red", lot="Q4492")
    yield Picture("parted_binder", bad, _shade(tubes.parted_ribbon), "binder runs clear, the rest is grit")
    yield Picture("parted_binder", (*first, *again), _shade(tubes.sound_ribbon), "one body")
    solid, fjell = _some("Aldervane", "Lagoon Green", TUBE)[2:3], _some("Vardelune", "Fjell Blue-Green")
    yield Picture("stiff_tube", solid, _shade(tubes.cut_open), "cut open: solid throughout")
    yield Picture("cracked", fjell[:1], _shade(_CRUMBS), "cracked, crumbs fell out")
    yield Picture("cracked", fjell[2:], _shade(_WHOLE_CRACKS), "cracked through")
    rose, stick = _some("Drumlaw", "Quay Rose")[:1], _some("Maslenne", "Meadow", STICK)[:1]
    yield Picture("soft_face", rose, _shade(pans.syrupy), "keeps a fingerprint, ran over the rim")
    yield Picture("cracked", stick, _shade(tubes.stick), "whole")
    label = _some("Fennacre", "Viridian", lot="F-09A")[:1]
    yield Picture("name_mismatch", label, _label, "name and PG18 large, another pigment in the small print")


def _at_the_bench() -> Iterator[Picture]:
    foaming = (_some("Quernlow", "Ochre", HALF)[0], _some("Halcyre", "Ochre", HALF)[0])
    calm, bubbles = _some("Drumlaw", "Ochre", session="S01"), _some("Quernlow", "Kiln Red", lot="Q4471")[1:2]
    yield Picture("froth_amount", foaming, _shade(pans.frothed, 0.4), "at twenty turns", "S01")
    yield Picture("froth_amount", calm, _pan, "at twenty turns", "S01")
    yield Picture("laydown_count", bubbles, _bubbled, "bubbles and rings in the stroke", "S03")
    smooth, peer = (_some(maker, "Viridian", TUBE, session="S03") for maker in ("Fennacre", "Quernlow"))
    yield Picture("granulation", smooth, _beside("S03", peer[0], 0.95, 0.85), "left; right another maker's", "S03")
    yield Picture("staining", smooth, _lifted("S03", peer[0]), "ten damp strokes down the middle", "S03")
    rust, brick = (_some("Trellmere", name, TUBE, session="S03") for name in ("Rust", "Brick"))
    yield Picture("opacity", rust, _over_line("S03", brick[0]), "Rust and Brick over the black line", "S03")
    for name, maker, code in _PALE:
        pale, deep = (_some(whose, name, HALF, session=code) for whose in ("Corvannet", maker))
        yield Picture("wash_faintness", pale, _beside(code, deep[0], 0.24, 1.0), "left; right another maker's", code)


_PALE = (("Ochre", "Aldervane", "S01"), ("Red Oxide", "Halcyre", "S02"), ("Lagoon", "Drumlaw", "S02"))


def _controls() -> Iterator[Picture]:
    on_it = _some("Halcyre", "Ochre", session="S06")
    yield Picture("evenness", on_it, _sheet("S06"), "the sheet of S06", "S06")
    yield Picture("granulation", (CONTROL,), _control(0.4), "control, daylight lamp", "S06")
    yield Picture("granulation", (CONTROL,), _control(0.85), "control, desk lamp", "S07", warm=0.8)


def _trial(piece: Piece, session: str | None) -> str:
    if session is None:
        return trial_id(piece)
    return next(place.trial for place in places(session) if place.piece is piece)


def shots(pages: Sequence[Page]) -> Iterator[Shot]:
    """Yield the photos, each filed two minutes after its observation was written."""
    written = {row.id: page for page in pages for row in page.records if isinstance(row, Observation)}
    for picture in _album():
        for piece in picture.pieces:
            observation = ident("observation", _trial(piece, picture.session), picture.key)
            yield Shot(
                at=written[observation].at + timedelta(minutes=2),
                by=OWNER,
                observation=observation,
                specimen=specimen_id(piece),
                name=f"{piece.number:04d}-{picture.key}-{picture.session or 'unpacking'}.jpg",
                caption=picture.caption,
                draw=_drawing(picture, piece),
            )


def _drawing(picture: Picture, piece: Piece) -> Callable[[], Image.Image]:
    def draw() -> Image.Image:
        chance = stream("photo", drawn_as(picture.key), piece.number, picture.session)
        return developed(picture.draw(piece, chance), chance, picture.warm)

    return draw


def save(shot: Shot, path: Path) -> None:
    """Write a photo as the camera would: JPEG with the time it was taken (EXIF 2.32, tags 36867 and 36881)."""
    exif = Image.Exif()
    details = exif.get_ifd(ExifTags.IFD.Exif)
    taken = shot.at.astimezone(UTC) - timedelta(minutes=1)
    details[ExifTags.Base.DateTimeOriginal] = taken.strftime("%Y:%m:%d %H:%M:%S")
    details[ExifTags.Base.OffsetTimeOriginal] = "+00:00"
    image = shot.draw()
    for quality in QUALITIES:
        image.save(path, "JPEG", quality=quality, optimize=True, exif=exif)
        if path.stat().st_size < MOST_BYTES:
            return
