"""What is done to a picture's bytes; only the decoder's own process runs this.

A picture is opened only by the decoders of four formats, every warning counts as an error, and all of it is decoded.
"""

import warnings
from collections.abc import Callable, Mapping
from io import BytesIO
from typing import Any, Final

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

MOST_PIXELS: Final = 60_000_000
KINDS: Final = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}

_SIDEWAYS = {5, 6, 7, 8}
"""Orientations (EXIF 2.32, tag 274) that turn the picture by a quarter."""

Answer = tuple[dict[str, Any], bytes]


class TooLargeError(Exception):
    """A picture of more pixels than are decoded."""


def answer(question: Mapping[str, Any], content: bytes) -> Answer:
    """Return what is asked of a picture's bytes, or ``{"wrong": why}``."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.filterwarnings("ignore", "Corrupt EXIF data")  # no reason to refuse a good picture
        try:
            return _QUESTIONS[question["what"]](question, content)
        except Exception as error:  # decoders raise nearly everything on hostile bytes
            return {"wrong": _wrong_with(error)}, b""


def _wrong_with(error: Exception) -> str:
    """Say in plain words why a picture could not be decoded."""
    if isinstance(error, UnidentifiedImageError):
        return "no picture of these kinds"
    if isinstance(error, TooLargeError):
        return str(error)
    if isinstance(error, Image.DecompressionBombError | Image.DecompressionBombWarning):
        return "more pixels than that"
    if isinstance(error, MemoryError):
        return "a picture that takes too much memory"
    return "a picture that is damaged or cut off"


def _opened(content: bytes) -> Image.Image:
    """Return a picture whose size is known and allowed, not decoded yet."""
    formats = ["JPEG", "PNG", "WEBP"]
    if content[4:8] == b"ftyp":
        import pi_heif  # here, because few pictures need it

        pi_heif.register_heif_opener()
        formats = ["HEIF"]
    image = Image.open(BytesIO(content), formats=formats)
    if image.width * image.height > MOST_PIXELS:
        raise TooLargeError(f"{image.width} x {image.height} pixels")
    return image


def _look(_: Mapping[str, Any], content: bytes) -> Answer:
    """Return a picture's kind, its size as it is looked at, and the time and zone that its EXIF says."""
    with _opened(content) as image:
        image.load()
        exif = _exif(image)
        width, height = image.size
        if exif.get(ExifTags.Base.Orientation) in _SIDEWAYS:
            width, height = height, width
        details = exif.get_ifd(ExifTags.IFD.Exif)
        told = [_text(details.get(tag, "")) for tag in _TIME_AND_ZONE]
        return {"kind": KINDS[image.format or ""], "width": width, "height": height, "taken": told}, b""


_TIME_AND_ZONE = (ExifTags.Base.DateTimeOriginal, ExifTags.Base.OffsetTimeOriginal)


def _text(value: object) -> str:
    return str(value).strip("\x00 ")[:40]


def _exif(image: Image.Image) -> Image.Exif:
    """Return the EXIF of a decoded picture; empty where it is broken."""
    try:
        exif = image.getexif()
        exif.get_ifd(ExifTags.IFD.Exif)
    except Exception:  # as above: nearly everything is raised
        return Image.Exif()
    return exif


def _squares(question: Mapping[str, Any], content: bytes) -> Answer:
    """Return a part of a picture in few pixels: their number across and along, and their bytes in RGB."""
    across, along, zoom = question["width"], question["height"], question["zoom"]
    with _opened(content) as opened:
        if KINDS[opened.format or ""] != question["kind"]:
            raise ValueError(f"a {opened.format} under another name")
        size = opened.size
        opened.draft("RGB", (across * zoom * 2, along * zoom * 2))  # a JPEG is decoded no larger than needed
        scale = opened.width / size[0]
        image = ImageOps.exif_transpose(opened).convert("RGB")
    part = part_of(image.size, zoom, question["centre"])
    shape = ImageOps.contain(image.crop(part), (across, along))
    told = {
        "across": shape.width,
        "along": shape.height,
        "whole": [round(image.width / scale), round(image.height / scale)],
        "part": [round(edge / scale) for edge in part],
    }
    return told, shape.tobytes()


def part_of(size: tuple[int, int], zoom: int, centre: tuple[float, float]) -> tuple[int, int, int, int]:
    """Return the part of a photo that is shown: 1/zoom of each side around `centre`, moved to lie inside.

    Parameters
    ----------
    size
        Width and height in pixels.
    zoom
        1 shows all of it.
    centre
        Shares of width and height, 0 to 1.
    """
    left_top, right_bottom = [], []
    for length, share in zip(size, centre, strict=True):
        shown = max(length // max(zoom, 1), 1)
        start = min(max(round(length * share) - shown // 2, 0), length - shown)
        left_top.append(start)
        right_bottom.append(start + shown)
    return (left_top[0], left_top[1], right_bottom[0], right_bottom[1])


_QUESTIONS: Mapping[str, Callable[[Mapping[str, Any], bytes], Answer]] = {"look": _look, "squares": _squares}
