"""From lots to index arrays: who made what, from which pigments, in which format.

Three levels, each sorted by the next: *rows* (distinct lots: one arm, `tested`, `faulty`, and how many lots look so),
*arms* (a paint in a format) and *paints*. The linear predictor of a row is ``field columns of its arm + its paint``.
Field columns are ordered b0, b_format, a_maker, g_maker,format, c_pigment.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from qcledger.errors import bad
from qcledger.stats.check import FloatArray

IntArray: TypeAlias = NDArray[np.int64]

BLOCKS = ("b0", "b", "a", "g", "c")
"""Blocks of the field columns, in order: level, formats, makers, makers' formats, pigments."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledLot:
    """One lot: `faulty` of `tested` specimens.

    Parameters
    ----------
    maker, format, paint
        Any hashable keys; a paint belongs to one maker.
    pigments
        Keys of the paint's pigments, at least one; a paint of several takes the mean of their effects.
    tested, faulty
        Whole numbers, 0 <= faulty <= tested, tested >= 1.
    """

    maker: Hashable
    format: Hashable
    paint: Hashable
    pigments: tuple[Hashable, ...]
    tested: int
    faulty: int


@dataclass(frozen=True)
class PooledField:
    """What was tested, as arrays; R rows, A arms, K paints, M makers, F formats, C cells, P pigments, L lots.

    Parameters
    ----------
    makers, formats, paints, pigments
        Keys in the order of their indices.
    cells
        (maker index, format index) of each maker's format that was tested, in order.
    tested, faulty, lots
        Per row: specimens, faulty specimens, number of lots that look so; shape (R,).
    arm_of_row, paint_of_arm, cell_of_arm
        Indices one level up; the first two never decrease.
    mix
        Shares of pigments per paint, rows adding to 1; sparse, shape (K, P).
    row_of_lot
        Row of each lot given, shape (L,).
    """

    makers: tuple[Hashable, ...]
    formats: tuple[Hashable, ...]
    paints: tuple[Hashable, ...]
    pigments: tuple[Hashable, ...]
    cells: tuple[tuple[int, int], ...]
    tested: IntArray
    faulty: IntArray
    lots: FloatArray
    arm_of_row: IntArray
    paint_of_arm: IntArray
    cell_of_arm: IntArray
    mix: Any
    row_of_lot: IntArray

    @cached_property
    def maker_of_cell(self) -> IntArray:
        """Maker index of each cell, shape (C,)."""
        return np.array([maker for maker, _ in self.cells], dtype=np.int64)

    @cached_property
    def format_of_cell(self) -> IntArray:
        """Format index of each cell, shape (C,)."""
        return np.array([format_ for _, format_ in self.cells], dtype=np.int64)

    @cached_property
    def maker_of_paint(self) -> IntArray:
        """Maker index of each paint, shape (K,)."""
        return self.maker_of_cell[self.cell_of_arm[self.row_starts(self.paint_of_arm)]]

    @cached_property
    def blocks(self) -> dict[str, slice]:
        """Columns of each block of `BLOCKS`."""
        sizes = (1, len(self.formats), len(self.makers), len(self.cells), len(self.pigments))
        ends = np.cumsum(sizes)
        return {name: slice(end - size, end) for name, size, end in zip(BLOCKS, sizes, ends, strict=True)}

    @property
    def columns(self) -> int:
        """Number of field columns, G."""
        return int(self.blocks["c"].stop)

    @cached_property
    def matrix(self) -> Any:
        """Field columns of each arm, sparse (A, G)."""
        arms = np.arange(len(self.paint_of_arm))
        single = (
            np.zeros_like(arms),
            self.blocks["b"].start + self.format_of_cell[self.cell_of_arm],
            self.blocks["a"].start + self.maker_of_cell[self.cell_of_arm],
            self.blocks["g"].start + self.cell_of_arm,
        )
        mix = self.mix[self.paint_of_arm].tocoo()
        rows = np.concatenate([*[arms] * len(single), mix.row])
        columns = np.concatenate([*single, self.blocks["c"].start + mix.col])
        values = np.concatenate([np.ones(len(single) * len(arms)), mix.data])
        return sparse.csr_array((values, (rows, columns)), shape=(len(arms), self.columns))

    @cached_property
    def arm_starts(self) -> IntArray:
        """First row of each arm."""
        return self.row_starts(self.arm_of_row)

    @cached_property
    def paint_starts(self) -> IntArray:
        """First arm of each paint."""
        return self.row_starts(self.paint_of_arm)

    @staticmethod
    def row_starts(group: IntArray) -> IntArray:
        """Return where each group of a sorted index begins."""
        return np.flatnonzero(np.diff(group, prepend=-1))

    @cached_property
    def pigment_shares(self) -> FloatArray:
        """The field's own mix: share of each pigment among the specimens tested, shape (P,), adding to 1."""
        per_row = self.tested * self.lots
        per_arm = np.add.reduceat(per_row, self.arm_starts)
        per_paint = np.add.reduceat(per_arm, self.paint_starts)
        return np.asarray(self.mix.T @ per_paint / per_row.sum(), dtype=np.float64)

    def with_counts(self, tested: IntArray, faulty: IntArray) -> "PooledField":
        """Return the same purchases with other outcomes; `tested` and `faulty` per lot, shape (L,)."""
        return _collapse(self, self.arm_of_row[self.row_of_lot], tested, faulty)


def arrange(lots: Sequence[PooledLot]) -> PooledField:
    """Return the field that `lots` make up, identical lots of one arm collapsed.

    Parameters
    ----------
    lots
        At least one lot, in any order; keys are indexed in order of their text, so the order does not matter.

    Returns
    -------
    Field

    Raises
    ------
    BadInput
        No lots, counts out of range, a paint without pigments, or one paint with two makers or two lists of pigments.
    """
    if not lots:
        raise bad("lots", "none", "at least one lot with a tested specimen")
    for lot in lots:
        _refuse_counts(lot)
    recipe = _one_recipe_per_paint(lots)
    makers, formats = _keys(lot.maker for lot in lots), _keys(lot.format for lot in lots)
    # Paints of one maker stand together, which keeps a maker's arms together too.
    paints = tuple(sorted(recipe, key=lambda paint: (str(recipe[paint][0]), str(paint))))
    pigments = _keys(pigment for lot in lots for pigment in lot.pigments)
    place = {"m": _places(makers), "f": _places(formats), "k": _places(paints), "p": _places(pigments)}
    where = [(place["k"][lot.paint], place["m"][lot.maker], place["f"][lot.format]) for lot in lots]
    cells = tuple(sorted({(maker, format_) for _, maker, format_ in where}))
    arms = sorted(set(where))
    cell_place, arm_place = _places(cells), _places(tuple(arms))
    shares = [
        (k, place["p"][p], 1 / len(recipe[paint][1])) for k, paint in enumerate(paints) for p in recipe[paint][1]
    ]
    rows, columns, values = zip(*shares, strict=True)
    empty = np.zeros(0, dtype=np.int64)
    bare = PooledField(
        makers=makers,
        formats=formats,
        paints=paints,
        pigments=pigments,
        cells=cells,
        tested=empty,
        faulty=empty,
        lots=np.zeros(0),
        arm_of_row=empty,
        paint_of_arm=np.array([paint for paint, _, _ in arms], dtype=np.int64),
        cell_of_arm=np.array([cell_place[maker, format_] for _, maker, format_ in arms], dtype=np.int64),
        mix=sparse.csr_array((values, (rows, columns)), shape=(len(paints), len(pigments))),
        row_of_lot=empty,
    )
    arm_of_lot = np.array([arm_place[one] for one in where], dtype=np.int64)
    return _collapse(bare, arm_of_lot, np.array([lot.tested for lot in lots]), np.array([lot.faulty for lot in lots]))


def _collapse(field: PooledField, arm_of_lot: IntArray, tested: IntArray, faulty: IntArray) -> PooledField:
    triples = np.stack([arm_of_lot, tested, faulty], axis=1).astype(np.int64)
    rows, row_of_lot, count = np.unique(triples, axis=0, return_inverse=True, return_counts=True)
    return PooledField(
        makers=field.makers,
        formats=field.formats,
        paints=field.paints,
        pigments=field.pigments,
        cells=field.cells,
        tested=rows[:, 1],
        faulty=rows[:, 2],
        lots=count.astype(np.float64),
        arm_of_row=rows[:, 0],
        paint_of_arm=field.paint_of_arm,
        cell_of_arm=field.cell_of_arm,
        mix=field.mix,
        row_of_lot=row_of_lot.reshape(-1),
    )


def _refuse_counts(lot: PooledLot) -> None:
    if lot.tested < 1:
        raise bad(f"lot of paint {lot.paint}", f"{lot.tested} tested", "at least 1 tested specimen")
    if not 0 <= lot.faulty <= lot.tested:
        raise bad(f"lot of paint {lot.paint}", f"{lot.faulty} faulty of {lot.tested}", "0 faulty up to all tested")
    if not lot.pigments:
        raise bad(f"paint {lot.paint}", "no pigments", "at least one pigment key; 'unknown' is one")


def _one_recipe_per_paint(lots: Sequence[PooledLot]) -> dict[Hashable, tuple[Hashable, tuple[Hashable, ...]]]:
    recipe: dict[Hashable, tuple[Hashable, tuple[Hashable, ...]]] = {}
    for lot in lots:
        mine = (lot.maker, tuple(sorted(set(lot.pigments), key=str)))
        if recipe.setdefault(lot.paint, mine) != mine:
            raise bad(f"paint {lot.paint}", f"{mine[0]}, {mine[1]}", f"one maker and one list: {recipe[lot.paint]}")
    return recipe


def _keys(keys: Any) -> tuple[Hashable, ...]:
    return tuple(sorted(set(keys), key=str))


def _places(keys: Sequence[Hashable]) -> dict[Any, int]:
    return {key: place for place, key in enumerate(keys)}
