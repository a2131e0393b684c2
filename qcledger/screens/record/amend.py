"""Amending one observation where it is seen: another result, then why; then and now side by side."""

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench import amending
from qcledger.bench.amending import REASONS, WHY_NOT, Amendable, result_words
from qcledger.bench.filing import file_picture
from qcledger.bench.newest import PictureFile
from qcledger.bench.result import Hand, Pencil, Result, result_of
from qcledger.errors import BadInput
from qcledger.figures import reading
from qcledger.records import Observation, Photo
from qcledger.screens import keys
from qcledger.screens.camera import Camera
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import NoteBox
from qcledger.screens.keptline import KeptLine
from qcledger.screens.page import Page
from qcledger.screens.record import words
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.report.amended import RecountedCell

WHAT: Final = "What should stand? a digit, + half step, - not testable, r reading, n note, x should not be there"
WHY: Final = f"Why? {', '.join(f'{key} {text}' for key, text in REASONS.items())}, o in your own words"
WHY_NOT_ASKED: Final = f"Not testable: {', '.join(f'{n} {text}' for n, text in WHY_NOT.items())}, o in your own words"
NOTHING_YET: Final = "nothing to save yet: first what should stand, then why"


class Amend(Page):
    """One observation that stands, what is to stand in its place, and what that does to the counts of its cell.

    Parameters
    ----------
    desk
        Where to ask and save.
    observation
        The id of an observation; where another one stands in its place by now, that is amended.
    """

    KEY = "amend"
    TITLE = "Amend"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("amend"))

    def __init__(self, desk: Desk, observation: str) -> None:
        super().__init__(desk)
        self._observation = observation
        self._found: Amendable | None = None
        self._is_asked = asyncio.Event()
        self._cell: RecountedCell | None = None
        self._counts = ""
        self._instead: Result | None = None
        self._asks_why_not = False
        self._saved: tuple[Result, str, str] | None = None
        """What stood before the last save here, its reason, and the counts before and after."""
        self._is_saving = False
        self._pencil: Pencil | None = None
        self._camera = Camera(desk)

    def body(self) -> ComposeResult:
        """Lay out what it was made on, then and now, the ladder, the counts, and what is asked."""
        yield Wrapped(2, id="made_on")
        yield Wrapped(3, id="then")
        yield Wrapped(3, id="now")
        yield LadderOfAnchors()
        yield Wrapped(2, id="counts")
        yield Wrapped(3, id="asked")

    async def fill(self) -> None:
        """Ask what stands."""
        wanted = self._observation

        def ask(ledger: "Ledger") -> "tuple[Amendable, RecountedCell | None, str]":
            from qcledger.report.amended import cell_of, why_none

            found = amending.load(ledger, wanted)
            found.check_own()
            cell = cell_of(ledger, found)
            return found, cell, cell.as_it_stands() if cell is not None else why_none(found)

        try:
            found, self._cell, self._counts = await self.desk.read(ask, after_saves=True)
            self._found = found
        finally:
            self._is_asked.set()
        self.head(found.name, found.criterion.title)
        self.show()
        if found.newer and self._saved is None:
            self.say("it was amended before: what stands now is shown, and is amended")
        if self._instead is not None:
            self.work(partial(self._count, self._instead), instead_of="count", holds=False)

    # What is shown

    def show(self) -> None:
        """Show then and now; before anything is changed, what stands."""
        found = self._found
        if found is None:
            return
        settings, mark, stands = self.desk.settings, self.desk.settings.decimal_mark, found.result
        instead, saved = self._instead, self._saved
        then = saved[0] if saved and instead is None else stands
        now = stands if saved and instead is None else instead
        self._show_text("#made_on", words.made_on(found.line, settings))
        self._show_text("#then", f"then {result_words(then, found.criterion, mark)}")
        because = f"; saved, because: {saved[1]}" if saved and instead is None else ""
        self._show_text("#now", f"now {result_words(now, found.criterion, mark)}{because}" if now else "")
        self.query_one(LadderOfAnchors).show(_ladder(found, then, now))
        if instead is None:
            self._show_text("#counts", saved[2] if saved else self._counts)
        asked = worded(WHY_NOT_ASKED) if self._asks_why_not else WHAT if instead is None else WHY
        self._show_text("#asked", asked)

    def _show_text(self, name: str, text: str) -> None:
        self.query_one(name, Wrapped).show(text)

    async def _count(self, instead: Result) -> None:
        """Show what the counts would be."""
        found, cell = self._found, self._cell
        if found is not None and cell is not None:
            told = await self.desk.read(lambda _: cell.preview(instead))
            if self._instead == instead:
                self._show_text("#counts", told)

    # What should stand

    async def _ready(self) -> Amendable | None:
        """Return what is to be amended, waiting for it where a key was faster; None where it may not be."""
        await self._is_asked.wait()
        if self._found is None:
            self.app.bell()
        return self._found

    def _base(self, found: Amendable) -> Result:
        return found.result if self._instead is None else self._instead

    def _propose(self, found: Amendable, make: Callable[[], Result]) -> None:
        """Show what is to stand; what the criterion does not offer is refused and changes nothing."""
        try:
            instead = make()
        except BadInput as refused:
            self.app.bell()
            self.say(refused.told(), problem=True)
            return
        self._asks_why_not, self._pencil = False, None
        self._instead = None if instead == found.result else instead
        self.say("" if self._instead else "that stands already")
        self.show()
        if self._instead is not None:
            self.work(partial(self._count, instead), instead_of="count", holds=False)

    async def action_digit(self, number: int) -> None:
        """Give another grade or choice."""
        if (found := await self._ready()) is None:
            return
        if self._asks_why_not:
            self.say(f"{number}: {worded(WHY_NOT_ASKED)}", problem=True)
        else:
            self._propose(found, lambda: amending.graded(self._base(found), found.criterion, number))

    async def action_why_not(self, key: str) -> None:
        """Say, behind -, why it could not be tested."""
        if (found := await self._ready()) is None:
            return
        if self._asks_why_not:
            self._propose(found, lambda: amending.untestable(found.result, worded(WHY_NOT[key])))
        else:
            self.say(f"{key} says why it could not be tested; - comes first", problem=True)

    async def action_half(self) -> None:
        """Half a step worse, or whole again."""
        if (found := await self._ready()) is not None:
            self._propose(found, lambda: amending.halved(self._base(found), found.criterion))

    async def action_not_testable(self) -> None:
        """Ask why it could not be tested."""
        if await self._ready() is not None:
            self._asks_why_not, self._instead = True, None
            self.say("")
            self.show()

    async def action_nothing(self) -> None:
        """Say that the observation should not be there at all."""
        if (found := await self._ready()) is not None:
            self._propose(found, amending.nothing)

    async def action_reading(self) -> None:
        """Type another reading; it brings the grade that it proposes."""
        found = await self._ready()
        if found is None:
            return
        if found.criterion.reading is None:
            self.say(f"{found.criterion.title} takes no reading", problem=True)
            return
        base = self._base(found)

        async def read(text: str) -> Result:
            value, censored = reading(text, "reading")
            return amending.read(base, found.criterion, value, censored)

        def take(result: Result | None) -> None:
            if result is not None:
                self._propose(found, lambda: result)

        start = amending.reading_text(base, self.desk.settings.decimal_mark)
        self.app.push_screen(TypeLine(found.criterion.reading.unit, read, start), take)

    async def action_note(self) -> None:
        """Write another note, or one where there was none."""
        found, drafts = await self._ready(), self.desk.drafts
        if found is None:
            return
        base, name = self._base(found), self._draft("note", found)

        def kept(note: str | None) -> None:
            if note is not None:
                self._propose(found, lambda: amending.noted(base, note))

        title = f"Note: {found.criterion.title}, {found.name}"
        text = drafts.get(name) or base.note
        self.app.push_screen(NoteBox(title, text, partial(drafts.keep, name), base.note), kept)

    @staticmethod
    def _draft(kind: str, found: Amendable) -> str:
        return f"amend {kind} {found.observation.id}"

    # Saving

    async def action_because(self, key: str) -> None:
        """Save what should stand, for the reason with this key."""
        if await self._ready() is None:
            return
        if self._asks_why_not or self._instead is None:
            self.say(worded(WHY_NOT_ASKED) if self._asks_why_not else NOTHING_YET, problem=True)
        else:
            self._save_for(REASONS[key])

    async def action_own(self) -> None:
        """Type a reason, or why it could not be tested, in one's own words."""
        found, drafts = await self._ready(), self.desk.drafts
        if found is None:
            return
        if not self._asks_why_not and self._instead is None:
            self.say(NOTHING_YET, problem=True)
            return
        why_not = self._asks_why_not
        name = self._draft("why not" if why_not else "reason", found)

        def take(text: str | None) -> None:
            if text is None:
                return
            if why_not:
                self._propose(found, lambda: amending.untestable(found.result, text))
            else:
                self._save_for(text)

        title = "Why it could not be tested" if why_not else "Why it is amended"
        self.app.push_screen(KeptLine(title, drafts.get(name), partial(drafts.keep, name)), take)

    def _save_for(self, reason: str) -> None:
        found, instead = self._found, self._instead
        if found is not None and instead is not None and not self._is_saving:
            self._is_saving = True
            self.save_state("...")
            self.work(partial(self._save, found, instead, reason))

    async def _save(self, found: Amendable, instead: Result, reason: str) -> None:
        stood, cell, at = found.observation, self._cell, self.desk.now()

        def job(ledger: "Ledger") -> tuple[Observation, str]:
            from qcledger.report.amended import why_none

            if self._pencil is None:  # kept, so that a save that is not confirmed is the same one again
                self._pencil = Pencil(id=ledger.new_id(), tester=ledger.daybook.tester, at=at)
            counts = cell.preview(instead) if cell is not None else why_none(found)
            return amending.write(ledger, stood, instead, reason=reason, pencil=self._pencil), counts

        try:
            made, counts = await self.desk.save(job)
        except BaseException:
            self.save_state("not saved")
            raise
        finally:
            self._is_saving = False
        self.did(partial(_take_back, made=made, before=stood, name=f"{found.criterion.title} of {found.name}"))
        for kind in ("note", "reason", "why not"):
            self.desk.drafts.drop(self._draft(kind, found))
        self._observation, self._instead, self._pencil = made.id, None, None
        self._saved = (result_of(stood), made.reason, counts)
        await self.fill()
        self.saved()
        self.say("amended; z takes it back, Esc goes back")

    async def take_back(self) -> None:
        """Take back the last thing done in this window, and show what stands then."""
        self._saved = self._instead = None
        await super().take_back()

    async def action_photo(self) -> None:
        """File the newest picture of the photo folder with what stands."""
        if (found := await self._ready()) is not None:
            self.work(partial(self._file, found))

    async def _file(self, found: Amendable) -> None:
        title = found.criterion.title

        def file(ledger: "Ledger", picture: PictureFile) -> Photo:
            stands = amending.load(ledger, found.observation.id).observation.id
            return file_picture(ledger, picture, specimen=found.specimen, observation=stands, caption=title)

        photo = await self._camera.file(file)
        self.did(partial(_photo_back, camera=self._camera, photo=photo))
        self.saved()
        self.say(f"{photo.file_name} filed with {title}, {found.name}; z takes it back")

    def action_leave(self) -> None:
        """Go back; what was changed and not saved is left out first, and said."""
        if self._asks_why_not or self._instead is not None:
            self._asks_why_not, self._instead = False, None
            self.show()
            self.say("nothing was saved; Esc once more goes back")
        else:
            super().action_leave()


def _ladder(found: Amendable, then: Result, now: Result | None) -> Ladder:
    """Return the ladder with what stood marked, and what stands or is to stand proposed."""
    criterion = found.criterion
    if criterion.choices:
        names = list(criterion.choices)
        rungs = {float(n): f"{word}: {criterion.choices[word]}" for n, word in enumerate(names, 1)}
        then_at, now_at = (
            float(names.index(one.choice) + 1) if one is not None and one.choice in names else None
            for one in (then, now)
        )
        return Ladder(rungs, then_at, now_at)
    return Ladder(criterion.anchors, then.grade, now.grade if now else None, criterion.fault_line)


async def _take_back(page: Page, *, made: Observation, before: Observation, name: str) -> str:
    """Let what stood before an amendment stand again."""
    desk = page.desk

    def job(ledger: "Ledger") -> Observation | None:
        hand = Hand(ledger.daybook.tester, desk.now, ledger.new_id)
        return amending.write_back(ledger, made.id, before, hand, desk.done.stands_as)

    seen = await desk.save(job)
    if seen is None:
        return f"{name} was amended since, and stays as it is"
    desk.done.restored(before.id, seen.id)
    again, was = (result_words(result_of(one), None, desk.settings.decimal_mark) for one in (seen, made))
    return f"{name}: {again} stands again, no longer {was}"


async def _photo_back(page: Page, *, camera: Camera, photo: Photo) -> str:
    return await camera.take_back(photo)
