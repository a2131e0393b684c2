"""Pans: the tray, the cake of paint in it, and what can be wrong with it."""

import numpy as np

from tests.studio.photos.light import (
    HIGH,
    WIDE,
    Field,
    Place,
    X,
    Y,
    blur,
    box,
    disc,
    gloss,
    inside,
    linear,
    lit,
    over,
    rough,
    shadowed,
    stroke,
)
from tests.studio.photos.paper import ruler

PER_MM = 18.5
"""Pixels to a millimetre in pictures of pans."""

HALF = (16.0, 19.0)
FULL = (30.0, 19.0)
"""Outer size of the tray in millimetres, common practice, no source."""


def table(chance: np.random.Generator) -> Field:
    """Return the neutral grey card that things are laid on."""
    grey = 0.30 * (1 + 0.012 * rough(chance, 0.8) + 0.010 * rough(chance, 60))
    return np.asarray(grey[..., None] * np.array([1.0, 1.0, 1.01]))


def _tray(picture: Field, place: Place, wide: float, high: float, chance: np.random.Generator) -> Field:
    outer, rim = box(place, wide, high, 14), box(place, wide - 30, high - 30, 9)
    body = inside(outer)
    picture = shadowed(picture, body, 26, 0.62)
    bevel = 5 * np.clip(-outer / 7, 0, 1) - 9 * np.clip(-rim / 8, 0, 1)
    shade = lit(blur(bevel, 1.2)) * (1 + 0.006 * rough(chance, 1.0))
    plastic = linear("eceae6") * (0.90 * shade)[..., None] + 0.22 * gloss(blur(bevel, 1.6), 60)[..., None]
    return over(picture, body, plastic)


def _cake(
    picture: Field, place: Place, wide: float, high: float, colour: str, relief: Field, shine: float
) -> tuple[Field, Field]:
    """Return the picture with a cake of paint in the tray, and how much of each pixel is paint."""
    well = box(place, wide - 42, high - 42, 10)
    paint = inside(well)
    dome = blur(17 * (1 - np.exp(np.minimum(well, 0) / 24)), 13) + relief
    light = lit(blur(dome, 0.8))
    wall = np.clip(0.55 + blur(np.roll(np.roll(paint, 9, 0), 7, 1), 7) * 0.5, 0, 1)
    body = linear(colour) * (light * wall)[..., None]
    body = body + shine * (0.30 * gloss(dome, 34) + 0.5 * gloss(dome, 260))[..., None]
    return over(picture, paint, body), paint


def pan(
    colour: str,
    chance: np.random.Generator,
    size: tuple[float, float] = HALF,
    shine: float = 0.25,
    relief: Field | None = None,
) -> tuple[Field, Field]:
    """Return a pan on the table and the cover of its paint; `relief` in pixels is added to the cake's face."""
    place = Place(WIDE / 2 - 6, 214, chance.uniform(-5, 5))
    wide, high = size[0] * PER_MM, size[1] * PER_MM
    pits = np.clip(rough(chance, 2.0) - 2.3, 0, None)
    face = 0.16 * rough(chance, 1.2) + 1.5 * rough(chance, 26) - 2.2 * pits
    picture = _tray(table(chance), place, wide, high, chance)
    picture, paint = _cake(picture, place, wide, high, colour, face if relief is None else face + relief, shine)
    return ruler(picture, rough(chance, 0.7), PER_MM), paint


def wrapped(colour: str, chance: np.random.Generator, share: float, size: tuple[float, float] = HALF) -> Field:
    """Return a pan with torn wrapper paper stuck on about `share` of its face."""
    picture, paint = pan(colour, chance, size)
    terrain = rough(chance, 62) + 0.16 * rough(chance, 17) + 0.05 * rough(chance, 5)
    limit = np.quantile(terrain[paint > 0.5], 1 - share)
    torn = (terrain - limit) * 60
    fibres = rough(chance, 0.8, 1.6)
    leaf = inside(-torn + 1.6 * fibres, 2.5) * inside(16 - 40 * blur(paint, 2), 6)
    thin = inside(-torn - 9 + 5 * fibres, 9) * paint
    creases = 1.6 * rough(chance, 9) - 3.2 * np.exp(-np.abs(rough(chance, 26)) / 0.05)
    shade = lit(blur(creases + 0.25 * fibres, 0.7))
    soaked = np.clip(0.42 + 0.25 * rough(chance, 18), 0.12, 0.75)
    stuck = linear("f1ece0") * (1 - soaked[..., None]) + linear(colour) * 1.5 * soaked[..., None]
    white = linear("f6f3ec")
    wall = 0.45 + 0.55 * leaf
    picture = over(picture, 0.55 * thin * (1 - leaf), white * 0.75)
    picture = shadowed(picture, leaf, 5, 0.5)
    picture = over(picture, leaf, stuck * (shade * wall)[..., None])
    rim = leaf * np.exp(-np.clip(torn, 0, None) / 4.0) * inside(fibres - 0.6, 2)
    return over(picture, 0.85 * rim, white * shade[..., None] * 0.95)


def _facets(chance: np.random.Generator, count: int) -> tuple[Field, Field]:
    """Return how near each pixel is to a crack between `count` pieces, in pixels, and each piece's tilt."""
    wander = 7 * rough(chance, 12)
    seeds = np.column_stack([chance.uniform(150, 500, count), chance.uniform(60, 370, count)])
    away = np.stack([np.hypot(X - x + wander, Y - y - wander) for x, y in seeds])
    first, second = np.argsort(away, axis=0)[:2]
    near, next_ = (np.take_along_axis(away, place[None], axis=0)[0] for place in (first, second))
    apart = np.hypot(*np.moveaxis(seeds[first] - seeds[second], -1, 0))
    return (next_**2 - near**2) / (2 * apart), chance.uniform(-1, 1, count)[first]


def cracked(colour: str, chance: np.random.Generator, size: tuple[float, float] = FULL, crumbs: int = 40) -> Field:
    """Return a pan whose cake has cracked through, with `crumbs` fallen out."""
    gap, tilt = _facets(chance, 9)
    fine = np.abs(rough(chance, 20))
    depth = -13 * np.exp(-gap / 1.9) - 2.5 * np.exp(-fine / 0.035)
    picture, paint = pan(colour, chance, size, shine=0.05, relief=depth + 2.0 * tilt)
    dark = paint * np.clip(1.15 * np.exp(-gap / 2.2) - 0.08, 0, 1)
    picture = over(picture, 0.88 * dark, linear(colour) * 0.10)
    return _crumbled(picture, colour, crumbs, chance) if crumbs else picture


def _crumbled(picture: Field, colour: str, crumbs: int, chance: np.random.Generator) -> Field:
    """Return the picture with crumbs of paint on the table before the pan, lit from above left."""
    cover, shade = np.zeros((HIGH, WIDE)), np.ones((HIGH, WIDE))
    for _ in range(crumbs):
        x, y, radius = chance.normal(400, 110), chance.normal(408, 14), chance.uniform(1.5, 6.5)
        crumb = inside(disc(x, y, radius) + 0.9 * _outline(chance, x, y), 1.2)
        cover = np.maximum(cover, crumb)
        shade = np.where(crumb > 0, (0.8 - 0.025 * (X - x + Y - y)).clip(0.25, 1.6), shade)
    return over(shadowed(picture, cover, 3, 0.5), cover, linear(colour) * shade[..., None])


def _outline(chance: np.random.Generator, x: float, y: float) -> Field:
    """Return a crumb's own uneven outline: a few waves around its middle."""
    angle = np.arctan2(Y - y, X - x)
    waves = [chance.uniform(0.4, 1.2) * np.sin(n * angle + chance.uniform(0, 6.3)) for n in (2, 3, 5)]
    return np.asarray(np.sum(waves, axis=0))


def _blow(picture: Field, x: float, y: float, radius: float, colour: str) -> None:
    """Draw one bubble into the picture: dark foot, bright rim below, the lamp above."""
    reach = int(radius) + 4
    rows = slice(max(int(y) - reach, 0), min(int(y) + reach, HIGH))
    cols = slice(max(int(x) - reach, 0), min(int(x) + reach, WIDE))
    if rows.start >= rows.stop or cols.start >= cols.stop:
        return
    dx, dy = X[rows, cols] - x, Y[rows, cols] - y
    away = np.hypot(dx, dy) / radius
    skin = np.clip((1.0 - away) * radius, 0, 1)
    toward = np.clip((dx + dy) / (1.42 * radius), -1, 1)
    film = 0.80 + 0.75 * away**5 * (0.5 + 0.5 * toward) - 0.48 * np.exp(-(((away - 0.90) / 0.10) ** 2))
    lamp = np.exp(-((dx / radius + 0.38) ** 2 + (dy / radius + 0.42) ** 2) / 0.020)
    pale = 0.25 + 0.75 * linear(colour) / linear(colour).max()
    glow = film[..., None] * (0.62 * linear(colour) + 0.24 * pale) + 0.9 * lamp[..., None]
    picture[rows, cols] = over(picture[rows, cols], 0.80 * skin, glow)


def frothed(colour: str, chance: np.random.Generator, share: float, size: tuple[float, float] = HALF) -> Field:
    """Return a wet pan with froth on about `share` of its face, worked up with a brush."""
    ripples = 1.8 * np.sin(np.hypot(X - 310, Y - 214) / 9 + 0.5 * rough(chance, 30))
    picture, paint = pan(colour, chance, size, shine=0.9, relief=ripples)
    terrain = rough(chance, 60) - np.hypot(X - 300, Y - 200) / 260 + 0.25 * rough(chance, 12)
    limit = np.quantile(terrain[paint > 0.5], 1 - share)
    rows, cols = np.nonzero((terrain > limit) & (blur(paint, 6) > 0.93))
    for radius, count in ((3.0, 2400), (5.0, 900), (8.0, 220), (13.0, 36)):
        for place in chance.integers(0, len(rows), int(count * share)):
            _blow(picture, cols[place], rows[place], radius * chance.uniform(0.7, 1.25), colour)
    return picture


def syrupy(colour: str, chance: np.random.Generator) -> Field:
    """Return a pan too soft to keep its shape: sagged over the rim, glossy, with a finger's print in it."""
    place = (290.0, 190.0)
    print_ = disc(*place, 70) + 3 * rough(chance, 20)
    ridges = 1.3 * np.sin(np.hypot((X - 288) * 1.15, Y - 236) / 2.9 + 0.9 * rough(chance, 24)) * inside(print_, 10)
    dent = -15 * inside(print_, 34) + ridges + 5 * np.exp(-(np.abs(print_) / 9))
    picture, _ = pan(colour, chance, HALF, shine=1.0, relief=blur(dent, 0.8))
    sag = np.minimum(box(Place(330, 372, -4), 150, 44, 20), stroke([(352, 366), (360, 408)], 13))
    sag = blur(np.minimum(sag, box(Place(318, 356, -4), 190, 26, 12)), 5) + 2.0 * rough(chance, 12)
    run = inside(sag, 1.5)
    body = 15 * np.sqrt(np.clip(-sag, 0, 24) / 24)
    picture = shadowed(picture, run, 9, 0.6)
    wet = linear(colour) * lit(blur(body, 1.2))[..., None] + 0.75 * gloss(blur(body, 1.6), 120)[..., None]
    return over(picture, run, wet)
