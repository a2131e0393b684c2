"""Whole sheets, strokes with bubbles, and labels."""

import numpy as np
from PIL import Image, ImageDraw

from tests.studio.photos.light import (
    HIGH,
    WIDE,
    Field,
    Place,
    X,
    Y,
    box,
    disc,
    inside,
    linear,
    lit,
    over,
    printed,
    rough,
    shadowed,
    stroke,
)
from tests.studio.photos.pans import table
from tests.studio.photos.paper import Wash, font, laid, ruler, sheet, tooth, written


def bubbled(wash: Wash, chance: np.random.Generator, rings: int = 60) -> Field:
    """Return a dry stroke with the rings and pinholes that lay-down bubbles left."""
    relief = tooth(chance)
    picture = sheet(relief, chance)
    shape = box(Place(WIDE / 2, 200, -0.8), 540, 216, 14)
    marked = np.zeros((HIGH, WIDE))
    for _ in range(rings):
        x, y = chance.uniform(80, 560), chance.uniform(116, 286)
        radius = chance.uniform(3.0, 11.0)
        away = disc(x, y, radius)
        marked += 0.75 * np.exp(-((away / 1.5) ** 2)) - 0.55 * inside(away + 2.0, 2.5)
        marked -= 1.2 * inside(disc(x + chance.normal(0, 1), y, 1.6), 1.5)
    depth = Wash(wash.colour, 1.0, wash.grain)
    ground = laid(picture, relief, shape, Wash(wash.colour, wash.strength, wash.grain), chance)
    cover = inside(shape + 6, 4)
    change = np.exp(np.log(np.maximum(linear(depth.colour), 0.004)) * (cover * marked.clip(-0.8, 1.6))[..., None])
    return ruler(np.minimum(ground * change, sheet(relief, chance) * 1.0), relief, 12.0)


def whole_sheet(cells: list[tuple[str, Wash]], chance: np.random.Generator) -> Field:
    """Return a sheet of 3 by 8 cells, each with its code, a grey strip along the long side and corner marks."""
    relief = 0.45 * rough(chance, 0.9, 1.6)
    paper = inside(box(Place(WIDE / 2, HIGH / 2, 0.7), 606, 440, 3))
    picture = over(shadowed(table(chance), paper, 6, 0.5), paper, sheet(relief, chance))
    for place, (code, wash) in enumerate(cells[:24]):
        x, y = 78 + 69.5 * (place % 8), 92 + 122 * (place // 8)
        shape = box(Place(x, y, 0.7), 52, 72, 4)
        picture = laid(picture, relief, shape, wash, chance)
        picture = written(picture, [(code, x - 15, y + 42, 15)])
    for step in range(10):
        patch = inside(box(Place(86 + 52 * step, 444, 0.0), 50, 17))
        picture = over(picture, patch, np.full(3, 0.02 + 0.86 * (step / 9) ** 2.0))
    for x, y, arm in ((30, 38, 1), (610, 38, 1), (30, 424, 1), (610, 424, -1)):
        dx, dy = (14 if x < 320 else -14) * arm, (14 if y < 240 else -14)
        corner = inside(stroke([(x + dx, y), (x, y), (x, y + dy)], 2.2))
        picture = over(picture, corner, linear("141414"))
    return picture


def label(name: str, colour: str, large: list[str], small: list[str], chance: np.random.Generator) -> Field:
    """Return the printed paper of a label close up: its name, what stands large, and the small print.

    The tester's red pencil goes round the last two lines of the small print.
    """
    fibre = rough(chance, 1.1)
    slip = inside(box(Place(WIDE / 2, 208, -1.6), 570, 366, 10))
    picture = shadowed(table(chance), slip, 7, 0.5)
    bend = (1.04 - 0.18 * ((Y - 190) / 240) ** 2) * lit(0.22 * fibre)
    picture = over(picture, slip, linear("f4f0e5") * bend[..., None])
    band = slip * inside(np.abs(Y - 70 - 0.028 * (320 - X)) - 34)
    picture = over(picture, band, linear(colour) * bend[..., None])
    picture = over(picture, slip * printed(_set(large, small)), linear("23252a") * bend[..., None])
    picture = over(picture, slip * printed(_title(name)), linear("f7f4ea") * bend[..., None])
    oval = np.hypot((X - 200) / 165, (Y - 196 - 31 * len(small)) / 44) - 1 + 0.02 * rough(chance, 30)
    pencil = np.exp(-((oval * 28) ** 2)) * np.clip(0.75 + 0.4 * fibre, 0, 1)
    return ruler(over(picture, 0.85 * pencil, linear("a02c22")), rough(chance, 0.7), 20.0)


def _leaf() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    leaf = Image.new("L", (WIDE, HIGH), 255)
    return leaf, ImageDraw.Draw(leaf)


def _turned(leaf: Image.Image) -> Image.Image:
    return leaf.rotate(1.6, resample=Image.Resampling.BICUBIC, fillcolor=255)


def _title(name: str) -> Image.Image:
    leaf, pen = _leaf()
    pen.text((66, 44), name.upper(), fill=0, font=font(44))
    return _turned(leaf)


def _set(large: list[str], small: list[str]) -> Image.Image:
    leaf, pen = _leaf()
    for line, text in enumerate(large):
        pen.text((66, 116 + 42 * line), text, fill=0, font=font(31))
    pen.line([(66, 216), (566, 216)], fill=90, width=1)
    for line, text in enumerate(small):
        pen.text((66, 232 + 31 * line), text, fill=40, font=font(19))
    return _turned(leaf)
