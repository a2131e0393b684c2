"""What a label put right does to findings: whom its pieces are compared with, until now and from now on."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from qcledger.bench.correcting import Corrected
from qcledger.findings.words import how_many
from qcledger.records import LabelVersion, TestedRow
from qcledger.rubric.colour_index import compared_as
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

SAME = "Findings compare them with the same paints as before."
NO_PIECE = "No specimen carries it, so no finding changes."
UNTESTED = "None of these specimens was tested yet, so no finding changes."


def peers_words(ledger: "Ledger", wanted: Corrected) -> list[str]:
    """Return a line a format: how many other makers' tested specimens the pieces had as peers, and have from now on.

    Peers are specimens of other makers with the same declared pigments in the same format.
    """
    then, now = _kind(wanted.before), _kind(wanted.after)
    if then == now:
        return [worded(SAME)]
    if not wanted.pieces:
        return [NO_PIECE]
    ids, rows = {old.id for old, _ in wanted.pieces}, ledger.tested_rows()
    mine = [row for row in rows if row.specimen in ids]
    if not mine:
        return [UNTESTED]
    makers = {row.maker for row in mine}
    others = [row for row in rows if row.maker not in makers]
    return list(_lines(mine, others, then, now))


def _lines(
    mine: Iterable[TestedRow], others: Iterable[TestedRow], then: tuple[str, ...], now: tuple[str, ...]
) -> Iterator[str]:
    for format_ in sorted({str(row.format) for row in mine}):
        peers = [row for row in others if str(row.format) == format_]
        yield (f"{format_}: compared with {_told(peers, then)} until now, with {_told(peers, now)} from now on.")


def _told(peers: Iterable[TestedRow], kind: tuple[str, ...]) -> str:
    """Return how many specimens of how many makers declare some pigments; a label that names none has no peers."""
    like = [row for row in peers if kind and tuple(sorted(row.pigments)) == kind]
    names = ", ".join(kind) or "no pigments"
    if not like:
        return f"no other maker's ({names})"
    specimens, makers = len({row.specimen for row in like}), len({row.maker for row in like})
    return f"{how_many(specimens, 'specimen')} of {how_many(makers, 'other maker')} ({names})"


def _kind(label: LabelVersion) -> tuple[str, ...]:
    return tuple(sorted(compared_as(label.index_names)))
