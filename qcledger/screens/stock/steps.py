"""What was done to a piece at unpacking, kept in the order of the saves and taken back in that order."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from qcledger.bench import faults, filing
from qcledger.bench.result import Result, result_of
from qcledger.records import Observation, Photo
from qcledger.screens.camera import Camera
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_undone

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Step = tuple[Observation, Observation | None]
"""What was observed, and what stood before it."""
Taken = tuple[Photo, bool] | tuple[Step, Observation]
"""What was taken back: a photo, and whether it still stood as it was filed; or a step, and what stands now."""


class Steps:
    """The steps at one specimen. Only jobs of the writing thread change them: hands are faster than a slow disk.

    Parameters
    ----------
    specimen
        The specimen's id.
    done
        What can be taken back, the last step last; it outlives the page.
    told
        Called behind each step, once it stands in `done`.
    """

    def __init__(self, specimen: str, done: list[Step | Photo], told: Callable[[], None]) -> None:
        self.specimen = specimen
        self._done = done
        self._told = told
        self.failed = 0
        """How many saves have failed: what was asked after one and before it was known is not about an older step."""

    def grade(self, ledger: "Ledger", key: str, result: Result, hand: faults.Hand) -> Step:
        """Save a result; the ledger is asked first what stands by then."""
        try:
            current = faults.load(ledger, self.specimen)
            written = faults.write(ledger, current, key, result, hand)
            ledger.append(written.records)
        except BaseException:
            self.failed += 1
            raise
        step = written.observation, current.seen.get(key)
        self._done.append(step)
        self._told()
        return step

    def filed(self, photo: Photo) -> None:
        """Note a photo that was filed."""
        self._done.append(photo)
        self._told()

    def take_back(self, ledger: "Ledger", hand: faults.Hand, failed: int) -> Taken | None:
        """Take the last step back, unless a save has failed since `failed` of them had.

        None is returned where there was nothing to take back.
        """
        if not self._done or self.failed != failed:
            return None
        last = self._done[-1]
        if isinstance(last, Photo):
            stood = filing.take_back(ledger, last)
            self._done.pop()
            return last, stood
        seen, before = last
        written = faults.write_back(ledger, seen, before, hand)
        ledger.append(written.records)
        self._done.pop()
        self._done[:] = [
            one if isinstance(one, Photo) else (written.observation if one[0] == before else one[0], one[1])
            for one in self._done
        ]
        return last, written.observation


async def elsewhere(page: Page, steps: Steps, hand: faults.Hand, camera: Camera) -> str:
    """Take the last step back from another page than that of unpacking, which may be gone by now."""

    def job(ledger: "Ledger") -> tuple[Taken | None, str, str]:
        taken = steps.take_back(ledger, hand, steps.failed)
        now = faults.load(ledger, steps.specimen)
        key = taken[0][0].criterion if taken and not isinstance(taken[1], bool) else ""
        return taken, now.specimen.sticker, now.criteria[key].title if key in now.criteria else key

    taken, sticker, title = await page.desk.save(job)
    if taken is None:
        return f"nothing is left to take back at {sticker}"
    if isinstance(taken[1], bool):
        return camera.taken_back(taken[0], stood=taken[1])
    (last, _), seen = taken
    return shown_undone(f"{title}, {sticker},", result_of(last), result_of(seen), page.desk.settings)
