"""Putting right one of the labels that a finding counts by: which one is asked where there are several."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from qcledger.errors import BadInput
from qcledger.screens.findings.choose import Choose
from qcledger.screens.forms.labels import put_right
from qcledger.screens.page import Page

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


async def put_one_right(page: Page, specimens: "Callable[[Ledger], Sequence[str]]") -> None:
    """Open the form of a label that one of some specimens carries; the tester chooses where there are several."""

    def ask(ledger: "Ledger") -> list[tuple[str, str]]:
        return _labels(ledger, specimens(ledger))

    found = await page.desk.read(ask)
    if not found:
        page.say("none of these labels is one of your own, and who transcribed one alone changes it", problem=True)
        return
    picked = found[0][0] if len(found) == 1 else await page.app.push_screen_wait(Choose("Which label?", found))
    if picked is not None:
        from qcledger.bench.correcting import standing

        await put_right(page, lambda ledger: standing(ledger, picked))


def _labels(ledger: "Ledger", specimens: Sequence[str]) -> list[tuple[str, str]]:
    """Return id and words of each label of one's own that some specimens carry, by paint."""
    from qcledger.bench.correcting import label_of
    from qcledger.bench.faults import title_of
    from qcledger.records import Specimen

    found: dict[str, str] = {}
    for one in ledger.by_id(Specimen, specimens).values():
        try:
            label = label_of(ledger, one.id)
        except BadInput:  # another tester's, or none
            continue
        pigments = ", ".join(label.index_names) or "no index names"
        found.setdefault(label.id, f"{title_of(ledger, one)}: {pigments}, seen on {label.seen_on}")
    return sorted(found.items(), key=lambda pair: pair[1])
