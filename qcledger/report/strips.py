"""Density strips: the probability of each fault rate from 0 to 100 %, drawn in the characters of one line.

Ink is probability: a character is full from `FULL` times the probability that a flat strip would hold there, on the
same scale for every strip, so that small evidence looks wide and pale. A strip begins and ends at the 95 % limits; a
rate outside them stays blank. Strips whose darkness is probability: Jackson 2008, Am Stat 62:340-347.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from qcledger.findings.lots import TestedLot
from qcledger.findings.pooled import QUANTILES, Estimate
from qcledger.stats.clustered import lot_aware_densities

FULL = 3.0
"""Probability of the darkest shade, in units of a flat strip's: no rate is then far more likely than the others."""

LABEL = "strip: own counts; darker = likelier; ends = 95 % limits; {mark} all makers"
POOLED = "strip: pooled share; darker = likelier; ends = 95 % limits; {mark} all makers"
MIXED = "strip: pooled, below {few} own counts; darker = likelier; ends 95 %; {mark} all makers"
"""What a strip is, said wherever strips are."""
FEW = 5
"""Fewer own specimens than these are drawn by their own counts: pooled, most of such a strip would be borrowed."""
BORROWED = "-"
"""What stands from limit to limit of a strip that is mostly borrowed: no shade, for it is not evidence of its own."""

Pairs = Sequence[tuple[int, int]]
"""(faulty, tested) of each lot of a cell."""


class Curve(tuple[float, ...]):
    """Quantiles of a rate at `QUANTILES`, rising: what a strip of a posterior is drawn from."""

    __slots__ = ()


class Borrowed(Curve):
    """A curve that rests mostly on other lots and makers, and is drawn without shades."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Ink:
    """The characters of a strip: shades from the palest, and the mark of all makers' rate."""

    shades: str
    mark: str

    @property
    def label(self) -> str:
        """What a strip of counts drawn with this ink is."""
        return LABEL.format(mark=self.mark)

    def label_of(self, drawn: "Iterable[Pairs | Curve]") -> str:
        """Return what the strips drawn from these are."""
        kinds = {isinstance(one, Curve) for one in drawn if one}
        told = MIXED if len(kinds) > 1 else POOLED if kinds == {True} else LABEL
        return told.format(mark=self.mark, few=FEW)


SHADED = Ink(".░▒▓█", "┆")
PLAIN = Ink(".:=#", "|")
_UTF_8 = ("UTF-8", "UTF8")


def ink_of(encoding: str | None, environment: Mapping[str, str]) -> Ink:
    """Return shades where the terminal has them, ASCII otherwise.

    Parameters
    ----------
    encoding
        Of the output; None when it is not known.
    environment
        ``TERM``, and the locale that the terminal was told: ``LC_ALL``, else ``LC_CTYPE``, else ``LANG``.
    """
    told = next((value for name in ("LC_ALL", "LC_CTYPE", "LANG") if (value := environment.get(name))), "")
    ascii_only = told in ("C", "POSIX") or environment.get("TERM") in ("dumb", "vt100", "vt220")
    can = (encoding or "").upper() in _UTF_8 and not ascii_only
    return SHADED if can else PLAIN


def by_lot(lots: Iterable[TestedLot]) -> Pairs:
    """Return the counts of each lot: specimens of one lot resemble each other."""
    return [(lot.faulty, lot.tested) for lot in lots]


def singly(faulty: int, tested: int) -> Pairs:
    """Return the counts of specimens that stand for themselves, as they do within one lot."""
    return [(1, 1)] * faulty + [(0, 1)] * (tested - faulty)


def curve_of(rate: Estimate) -> Curve:
    """Return the Beta with the mean and standard deviation of an estimate; a lot's posterior is nearly that."""
    mean = min(max(rate.mean, 1e-4), 1 - 1e-4)
    strength = max(mean * (1 - mean) / max(rate.sd, 1e-6) ** 2 - 1, 1e-3)
    return Curve(betaincinv(mean * strength, (1 - mean) * strength, QUANTILES).tolist())


def strips(cells: Sequence[Pairs | Curve], width: int, ink: Ink = SHADED) -> list[str]:
    """Return one strip for each cell.

    Parameters
    ----------
    cells
        The counts of each cell's lots, or the curve of its posterior.
    width
        Characters from rate 0 to rate 1; 0 gives empty strips.
    ink
        What to draw with.

    Returns
    -------
    list of str
        Each `width` characters long; blank where nothing was tested.
    """
    if not width or not cells:
        return [" " * width for _ in cells]
    counted: list[Pairs] = [() if isinstance(cell, Curve) else cell for cell in cells]
    number = [cell for cell, pairs in enumerate(counted) for _ in pairs]
    faulty = [some for pairs in counted for some, _ in pairs]
    tested = [total for pairs in counted for _, total in pairs]
    density = lot_aware_densities(faulty, tested, number, len(cells), width)
    for place, cell in enumerate(cells):
        if isinstance(cell, Curve):
            density[place] = _density(cell, width)
    steps = len(ink.shades)
    level = np.where(density > 0, np.minimum(1 + density * width / FULL * steps, steps), 0).astype(int)
    shades = " " + ink.shades
    drawn = (
        "".join((shades[step] if step == 0 or not isinstance(cell, Borrowed) else BORROWED) for step in row)
        for row, cell in zip(level.tolist(), cells, strict=True)
    )
    return [
        strip if isinstance(cell, Curve) or any(total for _, total in cell) else " " * width
        for strip, cell in zip(drawn, cells, strict=True)
    ]


def _density(curve: Curve, width: int) -> NDArray[np.float64]:
    """Return the probability of each character's rates, none outside the 95 % limits."""
    edges = np.linspace(0, 1, width + 1)
    # Quantiles may be equal to the last digit; a curve has to rise.
    below = np.interp(edges, np.array(curve) + np.arange(len(curve)) * 1e-9, QUANTILES, left=0, right=1)
    inside = (edges[1:] > curve[1]) & (edges[:-1] < curve[-2])
    return np.where(inside, np.diff(below), 0.0)


def with_mark(strip: str, rate: float | None, ink: Ink = SHADED) -> str:
    """Return `strip` with the mark at `rate` where the strip is blank; under its ink the mark gives way."""
    if rate is None or not strip:
        return strip
    place = _place(rate, len(strip))
    return strip if strip[place] != " " else strip[:place] + ink.mark + strip[place + 1 :]


def axis(width: int, rate: float | None = None, ink: Ink = SHADED) -> str:
    """Return the scale below strips, ``0    ┆     50     100 %``, with the mark at `rate`; labels give way to it."""
    line = [" "] * width
    taken = () if rate is None or not width else (_place(rate, width),)
    for start, label, least in ((0, "0", 1), (width // 2 - 1, "50", 14), (width - 5, "100 %", 8)):
        span = range(start, start + len(label))
        if width >= least and not any(place in span for place in taken):
            line[start : start + len(label)] = label
    for place in taken:
        line[place] = ink.mark
    return "".join(line)


def _place(rate: float, width: int) -> int:
    return min(int(rate * width), width - 1)
