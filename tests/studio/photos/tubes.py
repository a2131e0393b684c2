"""Tubes: the first ribbon on a glass plate, and a tube cut open."""

import numpy as np

from tests.studio.photos.light import (
    WIDE,
    Field,
    Place,
    X,
    Y,
    blur,
    box,
    dyed,
    gloss,
    inside,
    linear,
    lit,
    over,
    rough,
    shadowed,
    stroke,
)
from tests.studio.photos.pans import table
from tests.studio.photos.paper import ruler


def _plate(chance: np.random.Generator) -> Field:
    """Return a white-backed glass plate with its bevelled edge, on the table."""
    place = Place(WIDE / 2, 214, -1.2)
    edge = box(place, 590, 374, 6)
    glass = inside(edge)
    picture = shadowed(table(chance), glass, 9, 0.5)
    rim = np.exp(-np.abs(edge + 5) / 2.2)
    face = linear("e9ebe8") * (1 + 0.04 * (X - 320) / 640 - 0.20 * rim)[..., None]
    return over(picture, glass, face)


def _aluminium(across: Field, half: Field | float, chance: np.random.Generator) -> Field:
    """Return the shade of rolled metal: two bright bands along it and small dents."""
    turn = np.clip(across / half, -1, 1)
    bands = 0.34 + 0.52 * np.exp(-(((turn + 0.42) / 0.22) ** 2)) + 0.24 * np.exp(-(((turn - 0.62) / 0.13) ** 2))
    dents = lit(1.4 * rough(chance, 9) + 2.6 * rough(chance, 26))
    return np.asarray(bands * dents * (1 - 0.45 * np.abs(turn) ** 6))


def _tube(picture: Field, place: Place, label: str, chance: np.random.Generator) -> Field:
    """Return `picture` with a tube lying along the place's across axis: crimp left, shoulder, neck right."""
    across, down = place.local()
    girth = 62 + 10 * np.clip(-across / 180, 0, 1)
    body = np.maximum(np.abs(down) - girth, np.abs(across + 40) - 190)
    shoulder = np.maximum(np.abs(down) - np.clip(62 - (across - 150) * 1.25, 24, 62), np.abs(across - 175) - 30)
    neck = np.maximum(np.abs(down) - 23, np.abs(across - 222) - 26)
    whole = inside(np.minimum(np.minimum(body, shoulder), neck), 1.2)
    picture = shadowed(picture, whole, 22, 0.6)
    metal = _aluminium(down, np.where(across > 195, 23, girth), chance)
    thread = np.where(across > 204, 0.78 + 0.22 * np.sin(across * 0.85), 1.0)
    crimp = np.where(across < -196, 0.72 + 0.28 * (np.abs((across + 230) % 11 - 5) < 3), 1.0)
    picture = over(picture, whole, linear("d9dadb") * (metal * thread * crimp * 1.25)[..., None])
    sleeve = inside(np.maximum(np.abs(down) - girth, np.abs(across + 35) - 130), 1.2)
    shade = 0.45 + 0.75 * metal
    picture = over(picture, sleeve, linear("f0ede6") * shade[..., None])
    band = inside(np.maximum(np.abs(down) - girth, np.abs(across - 62) - 24), 1.2)
    return over(picture, band, linear(label) * (shade * 1.05)[..., None])


def _ribbon(points: list[tuple[float, float]], radius: float, chance: np.random.Generator) -> tuple[Field, Field]:
    """Return the distance to a squeezed ribbon and its rounded height."""
    edge = stroke(points, radius + 2.4 * rough(chance, 16))
    return edge, 17 * np.sqrt(np.clip(-edge / radius, 0, 1))


def sound_ribbon(colour: str, chance: np.random.Generator) -> Field:
    """Return a ribbon that is one body, squeezed from a tube."""
    picture = _tube(_plate(chance), Place(180, 330, -14), colour, chance)
    along = np.linspace(0, 1, 26)
    curve = [(float(398 + 150 * t - 34 * np.sin(9 * t)), float(272 - 175 * t + 30 * np.sin(6 * t))) for t in along]
    edge, height = _ribbon(curve, 23, chance)
    body = inside(edge, 1.2)
    drawn = blur(height + 0.7 * np.sin((X * 0.7 + Y) / 5 + rough(chance, 30)), 1.3)
    wet = linear(colour) * lit(drawn)[..., None] + 0.55 * gloss(drawn, 90)[..., None]
    return ruler(over(shadowed(picture, body, 12, 0.55), body, wet), rough(chance, 0.7), 15.0)


def parted_ribbon(colour: str, chance: np.random.Generator, run: float = 1.0) -> Field:
    """Return a ribbon that has parted into clear binder, `run` wide, and a gritty rest."""
    picture = _tube(_plate(chance), Place(160, 336, -14), colour, chance)
    pool = stroke([(372, 282), (430, 250), (500, 214), (530, 168)], 58 * run + 7 * rough(chance, 30))
    pool = np.minimum(pool, stroke([(440, 262), (468, 330), (474, 364)], 15 * run + 4 * rough(chance, 18)))
    clear = inside(pool, 1.4)
    dome = 7 * np.sqrt(np.clip(-pool / 40, 0, 1))
    rim = np.exp(-np.abs(pool + 3) / 3.0)
    picture = shadowed(picture, clear, 4, 0.22)
    syrup = dyed(picture, clear * (0.55 + 0.5 * rim + 0.10 * rough(chance, 20)).clip(0, 2), linear("e6c27c"))
    stain = np.clip(0.55 + 0.6 * rough(chance, 24), 0, 1.2) * clear * np.exp(-np.clip(-pool, 0, None) / 34)
    picture = dyed(syrup, 0.35 * stain, linear(colour))
    picture = picture + (clear * (0.75 * gloss(blur(dome, 2.0), 160) + 0.16 * rim))[..., None]
    edge, height = _ribbon([(384, 268), (432, 236), (470, 196), (500, 178)], 22, chance)
    edge = edge + 5 * rough(chance, 4)
    grit = inside(edge, 1.4)
    clots = height + 2.6 * rough(chance, 1.5) + 3.0 * rough(chance, 4)
    dull = linear(colour) * 0.8 * lit(0.8 * clots)[..., None] + 0.10 * gloss(clots, 20)[..., None]
    picture = over(shadowed(picture, grit, 8, 0.5), grit, dull)
    specks = inside(1.75 - rough(chance, 1.3), 0.5) * clear * np.exp(-np.clip(edge, 0, None) / 30)
    return ruler(over(picture, 0.9 * specks, linear(colour) * 0.6), rough(chance, 0.7), 15.0)


def cut_open(colour: str, chance: np.random.Generator) -> Field:
    """Return a tube slit along its length and folded back, its paint one dry lump with cracks."""
    picture = table(chance)
    place = Place(300, 206, 6)
    picture = _tube(picture, place, colour, chance)
    across, down = place.local()
    half = 46 * np.sqrt(np.clip(1 - ((across + 40) / 172) ** 2, 0, 1))
    slit = np.abs(down - 2 * rough(chance, 30)) - half + 1.5 * rough(chance, 8)
    flap = inside(np.abs(slit - 7) - 9 + rough(chance, 10), 1.5) * inside(np.abs(across + 40) - 172, 2)
    curl = -np.abs(slit - 7)
    metal = np.where(down < 0, 0.52, 1.0) * (0.75 + 0.5 * np.exp(-((curl + 3) ** 2) / 9))
    core = inside(slit, 1.5) * inside(np.abs(across + 40) - 168, 2)
    picture = shadowed(picture, flap, 7, 0.5)
    picture = over(picture, flap, linear("c4c6c8") * (metal * lit(rough(chance, 7)))[..., None])
    wander = 6 * rough(chance, 10)
    pieces = np.abs(np.sin((across + wander) / 27)) * 27
    seams = np.minimum(pieces, np.abs(down - 9 * np.sin(across / 40) + wander))
    lump = 5 * np.cos(np.clip(down / 46, -1.5, 1.5)) - 9 * np.exp(-seams / 2.4) + 0.7 * rough(chance, 1.4)
    lump = lump + 1.6 * rough(chance, 11)
    wall = np.clip(1.0 + (slit + 9) / 12, 0, 1) * (down < 0)
    dull = linear(colour) * (1.25 * lit(lump) * (1 - 0.7 * np.exp(-seams / 2.0)) * (1 - 0.75 * wall))[..., None]
    return ruler(over(picture, core, dull), rough(chance, 0.7), 15.0)


def stick(colour: str, chance: np.random.Generator) -> Field:
    """Return a whole paint stick, half out of its clean wrapper."""
    place = Place(WIDE / 2, 206, 9)
    across, down = place.local()
    bar = box(place, 430, 104, 12)
    body = inside(bar, 1.2)
    picture = shadowed(table(chance), body, 20, 0.6)
    height = blur(20 * (1 - np.exp(np.minimum(bar, 0) / 9)), 4) + 0.25 * rough(chance, 1.3) + 1.1 * rough(chance, 20)
    pressed = inside(np.abs(box(Place(place.x + 90, place.y + 14, 9), 130, 44, 20)) - 2.5, 3)
    height = height - 3.5 * blur(pressed, 1.2)
    picture = over(picture, body, linear(colour) * lit(height)[..., None] + 0.10 * gloss(height, 30)[..., None])
    sleeve = inside(np.maximum(box(place, 452, 112, 10), across + 40 + 2.5 * rough(chance, 6)), 1.4)
    folds = 2.2 * rough(chance, 12) + 3 * np.sin(down / 17 + rough(chance, 40))
    picture = shadowed(picture, sleeve, 7, 0.45)
    shade = lit(blur(folds, 1.5)) * (1 - 0.25 * np.abs(down / 60) ** 4)
    picture = over(picture, sleeve, linear("efe7d6") * shade[..., None])
    band = sleeve * inside(np.abs(across + 150) - 26, 1.5)
    return ruler(over(picture, 0.9 * band, linear(colour) * shade[..., None]), rough(chance, 0.7), 15.0)
