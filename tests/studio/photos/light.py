"""Light on surfaces: the small optics that the drawn photos share.

Fields are arrays of shape (480, 640); a picture is the same with three channels of linear light, 0 to 1. Distances
are pixels; the lamp stands to the upper left.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

Field = NDArray[np.float64]
HIGH, WIDE = 480, 640
Y, X = (axis.astype(np.float64) for axis in np.mgrid[0:HIGH, 0:WIDE])
_LAMP = np.array([-0.45, -0.55, 0.90]) / np.linalg.norm([-0.45, -0.55, 0.90])
_UP = np.array([0.0, 0.0, 1.0])
_HALFWAY = (_LAMP + _UP) / np.linalg.norm(_LAMP + _UP)


def linear(colour: str) -> Field:
    """Return the three channels of linear light of an sRGB colour written as ``rrggbb`` (IEC 61966-2-1)."""
    coded = np.array([int(colour[i : i + 2], 16) for i in (0, 2, 4)]) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def _resized(field: Field, wide: int, high: int) -> Field:
    image = Image.fromarray(field.astype(np.float32)).resize((wide, high), Image.Resampling.BICUBIC)
    return np.asarray(image, dtype=np.float64)


def blur(field: Field, sigma: float) -> Field:
    """Return `field` smoothed by a Gaussian; wide ones are worked at a smaller size, where nobody can see it."""
    if sigma <= 6:
        return np.asarray(gaussian_filter(field, sigma, mode="nearest", truncate=3.0))
    factor = int(sigma // 3)
    high, wide = field.shape
    small = _resized(field, wide // factor, high // factor)
    return _resized(gaussian_filter(small, sigma / factor, mode="nearest"), wide, high)


def rough(chance: np.random.Generator, *grains: float) -> Field:
    """Return noise of mean 0 and spread 1, the sum of one layer for each size of grain in pixels."""
    total = np.zeros((HIGH, WIDE))
    for grain in grains:
        layer = blur(chance.standard_normal((HIGH, WIDE)), grain)
        total += layer / layer.std()
    return np.asarray((total - total.mean()) / total.std())


@dataclass(frozen=True, slots=True)
class Place:
    """A position on the table: where its middle lies, in pixels, and how far it is turned, in degrees."""

    x: float = WIDE / 2
    y: float = HIGH / 2
    turn: float = 0.0

    def local(self) -> tuple[Field, Field]:
        """Return across and down as seen from this place."""
        angle = np.deg2rad(self.turn)
        dx, dy = X - self.x, Y - self.y
        return dx * np.cos(angle) + dy * np.sin(angle), dy * np.cos(angle) - dx * np.sin(angle)


def box(place: Place, wide: float, high: float, corner: float = 0.0) -> Field:
    """Return the signed distance to a rectangle with round corners, negative inside."""
    across, down = place.local()
    out_x, out_y = np.abs(across) - wide / 2 + corner, np.abs(down) - high / 2 + corner
    outside = np.hypot(np.maximum(out_x, 0), np.maximum(out_y, 0))
    return outside + np.minimum(np.maximum(out_x, out_y), 0) - corner


def disc(x: float, y: float, radius: float) -> Field:
    """Return the signed distance to a circle, negative inside."""
    return np.asarray(np.hypot(X - x, Y - y) - radius)


def stroke(points: list[tuple[float, float]], radius: float | Field = 0.0) -> Field:
    """Return the signed distance to a line through `points`, as thick as `radius` to either side."""
    nearest = np.full((HIGH, WIDE), np.inf)
    for (x0, y0), (x1, y1) in pairwise(points):
        along = ((X - x0) * (x1 - x0) + (Y - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2 + 1e-9)
        t = np.clip(along, 0, 1)
        nearest = np.minimum(nearest, np.hypot(X - x0 - t * (x1 - x0), Y - y0 - t * (y1 - y0)))
    return nearest - radius


def inside(distance: Field, soft: float = 1.0) -> Field:
    """Return how much of a pixel lies inside a shape, 0 to 1, its edge `soft` pixels wide."""
    return np.clip(0.5 - distance / soft, 0, 1)


def _normals(height: Field) -> tuple[Field, Field, Field]:
    down, across = np.gradient(height)
    length = np.sqrt(across**2 + down**2 + 1)
    return -across / length, -down / length, 1 / length


def lit(height: Field) -> Field:
    """Return how bright a matt surface of that height looks, 1 where it is flat (Lambert's cosine law)."""
    nx, ny, nz = _normals(height)
    facing = np.maximum(nx * _LAMP[0] + ny * _LAMP[1] + nz * _LAMP[2], 0)
    return np.asarray(facing / _LAMP[2])


def gloss(height: Field, sharpness: float) -> Field:
    """Return the mirrored light of the lamp on a surface of that height, 0 to 1 (Blinn's halfway vector)."""
    nx, ny, nz = _normals(height)
    mirrored = np.maximum(nx * _HALFWAY[0] + ny * _HALFWAY[1] + nz * _HALFWAY[2], 0)
    return np.asarray(mirrored**sharpness)


def over(picture: Field, cover: Field, colour: Field) -> Field:
    """Return `picture` with `colour` (a picture or three channels) laid over it where `cover` is 1."""
    return picture + cover[..., None] * (colour - picture)


def dyed(picture: Field, load: Field, colour: Field) -> Field:
    """Return `picture` seen through a layer that turns white into `colour` at load 1 (Beer and Lambert)."""
    return np.asarray(picture * np.exp(load[..., None] * np.log(np.maximum(colour, 0.004))))


def shadowed(picture: Field, shape: Field, reach: float, depth: float = 0.5) -> Field:
    """Return `picture` with the shadow of a `shape` standing `reach` pixels high, falling to the lower right."""
    step = round(reach * 0.6)
    moved = np.roll(np.roll(shape, step, axis=1), round(reach * 0.75), axis=0)
    near, far = blur(shape, reach * 0.25 + 1), blur(moved, reach * 0.55 + 1)
    return np.asarray(picture * (1 - depth * np.clip(0.55 * near + 0.75 * far, 0, 1) * (1 - shape))[..., None])


def developed(picture: Field, chance: np.random.Generator, warm: float = 0.0) -> Image.Image:
    """Return the picture as a camera gives it: lamp falling off, `warm` 0 to 1 of lamp colour, grain, sRGB."""
    fall = 1.05 - 0.30 * (((X - 250) / 640) ** 2 + ((Y - 190) / 480) ** 2)
    cast = np.array([1 + 0.16 * warm, 1.0, 1 - 0.34 * warm])
    light = np.clip(picture * fall[..., None] * cast, 0, None)
    light = light / (1 + 0.12 * light**3)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    coded = np.stack([gaussian_filter(coded[..., c], 0.55) for c in range(3)], axis=-1)
    coded += chance.normal(0, 0.006, (HIGH, WIDE, 1))
    return Image.fromarray((np.clip(coded, 0, 1) * 255 + 0.5).astype(np.uint8))


def printed(image: Image.Image) -> Field:
    """Return how dark a drawn black-on-white `image` of the full size is, 0 to 1, for use as a cover."""
    return 1 - np.asarray(image.convert("L"), dtype=np.float64) / 255
