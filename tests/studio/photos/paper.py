"""Paper, washes and swatches."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.studio.photos.light import (
    HIGH,
    WIDE,
    Field,
    Place,
    blur,
    box,
    dyed,
    inside,
    linear,
    lit,
    over,
    printed,
    rough,
    shadowed,
)


@dataclass(frozen=True, slots=True)
class Wash:
    """How a paint behaves on paper.

    Parameters
    ----------
    colour
        At full strength, sRGB ``rrggbb``.
    strength
        Load of pigment, 1 as deep as `colour`.
    grain
        How far the pigment settles into the hollows, 0 smooth to 1 beads.
    fade
        How much of the load is lost from left to right, 0 to 1.
    """

    colour: str
    strength: float = 1.0
    grain: float = 0.0
    fade: float = 0.0


def tooth(chance: np.random.Generator) -> Field:
    """Return the relief of cold-pressed paper: hollows of some 4 to 6 pixels and the felt's slow swell."""
    return rough(chance, 1.6, 3.2) + 0.35 * rough(chance, 14)


def sheet(relief: Field, chance: np.random.Generator) -> Field:
    """Return a bare sheet of cotton paper under the lamp."""
    shade = lit(0.30 * relief) * (1 + 0.008 * rough(chance, 30))
    return np.asarray(linear("f3efe4") * shade[..., None])


def _settled(relief: Field, grain: float, chance: np.random.Generator) -> Field:
    """Return how pigment is spread by the hollows, about 1 on average."""
    hollow = np.clip(-relief, -1.6, 2.0) + 0.7 * rough(chance, 1.1)
    return np.asarray(np.exp(grain * 0.7 * hollow - 0.2 * grain**2))


def laid(picture: Field, relief: Field, distance: Field, wash: Wash, chance: np.random.Generator) -> Field:
    """Return `picture` with a wash inside `distance`: a wandering edge, a dark rim, pools, and grain."""
    edge = distance + 1.5 * rough(chance, 16) + 0.7 * relief
    cover = inside(edge, 2.0)
    rim = 0.55 * np.exp(-np.abs(edge + 2.5) / 2.6) + 0.16 * np.exp(-np.abs(edge + 6) / 9)
    pools = 1 + 0.10 * rough(chance, 34) + 0.05 * rough(chance, 11)
    span = np.clip((np.arange(WIDE) - WIDE * 0.08) / (WIDE * 0.84), 0, 1)[None, :]
    fading = 1 - wash.fade * span**0.8
    body = wash.strength * (pools * fading * _settled(relief, wash.grain, chance) + rim * fading)
    return dyed(picture, cover * np.maximum(body, 0), linear(wash.colour))


def written(picture: Field, lines: list[tuple[str, float, float, int]], colour: str = "3b3a3c") -> Field:
    """Return `picture` with pencilled `lines`, each a text, where it starts, and its size in pixels."""
    leaf = Image.new("L", (WIDE, HIGH), 255)
    pen = ImageDraw.Draw(leaf)
    for text, x, y, size in lines:
        pen.text((x, y), text, fill=40, font=font(size))
    return over(picture, 0.9 * printed(leaf), linear(colour))


@cache
def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Return the one font of labels, rules and pencil."""
    return ImageFont.load_default(size)


@cache
def _ticks(per_mm: float) -> Field:
    """Return the cover of a rule's ticks and numbers, a tick a millimetre of `per_mm` pixels."""
    leaf = Image.new("L", (WIDE, HIGH), 255)
    pen = ImageDraw.Draw(leaf)
    for mm in range(int(WIDE / per_mm) + 1):
        length = 15 if mm % 10 == 0 else 11 if mm % 5 == 0 else 7
        pen.line([(mm * per_mm, HIGH - 27), (mm * per_mm, HIGH - 27 + length)], fill=30, width=1)
        if mm % 10 == 0:
            pen.text((mm * per_mm + 3, HIGH - 17), str(mm // 10), fill=30, font=font(13))
    return printed(leaf)


def ruler(picture: Field, relief: Field, per_mm: float) -> Field:
    """Return `picture` with a steel rule of centimetres along its lower edge."""
    strip = inside(box(Place(WIDE / 2, HIGH - 2), WIDE + 40, 52))
    metal = linear("c9ccce") * (1 + 0.02 * np.roll(relief, 9, axis=1))[..., None]
    picture = over(shadowed(picture, strip, 4, 0.4), strip, metal)
    return over(picture, strip * _ticks(per_mm) * 0.85, linear("202225"))


def swatches(
    pair: list[tuple[str, Wash]], chance: np.random.Generator, line: bool = False, lifted: bool = False
) -> Field:
    """Return one or two swatches on a sheet, a code pencilled under each.

    `line` rules waterproof black under them (opacity); `lifted` scrubs a band across (staining).
    """
    relief = tooth(chance)
    picture = sheet(relief, chance)
    if line:
        ruled = inside(box(Place(WIDE / 2, 205), WIDE - 70, 30) + 0.8 * relief, 1.5)
        picture = over(picture, 0.985 * ruled, linear("1b1b1d"))
    wide = (WIDE - 60) / len(pair) - 26
    for place, (code, wash) in enumerate(pair):
        middle = 30 + (wide + 26) * (place + 0.5)
        shape = box(Place(middle, 205, chance.uniform(-0.6, 0.6)), wide, 290, 9)
        picture = laid(picture, relief, shape, wash, chance)
        if line:
            picture = _veil(picture, relief, shape, wash)
        if lifted:
            picture = _scrubbed(picture, relief, shape, middle, wash, chance)
        picture = written(picture, [(code, middle - wide / 2 + 6, 372, 27)])
    return ruler(picture, relief, 12.0)


def _veil(picture: Field, relief: Field, shape: Field, wash: Wash) -> Field:
    """Return the black line veiled by as much as the paint is laid on thicker than full strength."""
    cover = np.clip(wash.strength - 1.0, 0, 0.93) * inside(shape + 3 + 0.9 * relief, 5.0)
    return over(picture, cover, linear(wash.colour) * (lit(0.22 * relief) * (1 - 0.05 * relief))[..., None])


def _scrubbed(
    picture: Field, relief: Field, shape: Field, middle: float, wash: Wash, chance: np.random.Generator
) -> Field:
    """Return the swatch with a damp band lifted: smooth stains keep their colour, grains come away."""
    band = inside(box(Place(middle, 215), 74, 250, 12) + 3 * rough(chance, 5), 5.0) * inside(shape, 2)
    left = replace(wash, strength=0.93 * wash.strength if wash.grain < 0.3 else 0.10, grain=0.2 * wash.grain)
    bare = sheet(relief, chance)
    stained = dyed(bare, left.strength * np.ones((HIGH, WIDE)), linear(wash.colour))
    return over(picture, band * (0.97 - 0.06 * blur(relief, 1.0)).clip(0, 1), stained)
