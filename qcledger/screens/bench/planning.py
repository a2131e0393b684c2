"""Laying out a blind run sheet: a form, the sheet it proposes, and the acts that touch its blinding."""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Static

from qcledger import figures
from qcledger.bench import wishes
from qcledger.bench.blind import open_early
from qcledger.bench.offer import Offer, offer
from qcledger.bench.poured import pour
from qcledger.bench.wishes import Asking, ProposedSheet
from qcledger.errors import BadInput
from qcledger.screens.bench.forms import CONDITIONS, Form, SheetForm, said
from qcledger.screens.bench.walking import Walking
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, NoteBox
from qcledger.screens.shown import shown_date
from qcledger.screens.widgets.fields import NEEDED, Check, Field, FieldColumn, nothing_to_say
from qcledger.text import one_line
from qcledger.vocab import Blinding

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

FIELDS: Final[tuple[tuple[str, str, str], ...]] = (
    ("comparison", "comparison", "title of an open one, or a new one"),
    ("specimens", "specimens", "as in OV 0147-0152; empty: those not tested yet"),
    ("control", "control", "the sticker that comes first and last"),
    ("blinding", "blinding", ", ".join(Blinding)),
    ("weak_first", "weak first", "yes: weak colours before strong ones"),
    ("paper", "paper", "type, weight, surface"),
    ("although", "reason", ""),
    ("rubric", "rubric", "needed for a new comparison; commas between several"),
    ("criteria", "criteria", "only these; empty: everything"),
    ("repeats", "repeats", "hidden repeats; empty: one in ten"),
    ("testers", "testers", "a sheet for each; empty: yours alone"),
    ("session", "session", "a short code; empty: the next one"),
    ("start", "start", "as in 2026-03-09 09:00; empty: now"),
    ("paper_lot", "paper lot", ""),
    *CONDITIONS,
)
"""The fields of a plan: those that change from sheet to sheet first."""

MUST: Final = frozenset({"comparison", "blinding", "paper"})
"""Fields without which nothing is proposed; a new comparison needs its rubric too, as the hint there says."""

Propose = Callable[[Mapping[str, str]], Awaitable[ProposedSheet]]
Keep = Callable[[ProposedSheet], Awaitable[str]]


class PlanForm(SheetForm):
    """What a run sheet shall hold; gives back the id of its session once the sheet it proposes is kept.

    Parameters
    ----------
    offered
        What the ledger offers.
    propose
        Returns the sheet that answers a filled form.
    told
        Returns a proposal in lines that name no code.
    keep
        Saves a proposal and returns its session's id.
    """

    BINDINGS = [Binding("f3", "give", "propose", show=False, priority=True)]  # noqa: RUF012

    def __init__(
        self, offered: Offer, propose: Propose, told: Callable[[ProposedSheet], Sequence[str]], keep: Keep
    ) -> None:
        super().__init__(offered)
        self._propose = propose
        self._told = told
        self._keep = keep

    def compose(self) -> ComposeResult:
        """Lay out the fields with what was used last."""
        first = {"blinding": str(Blinding.SHUFFLED), **self._offered.proposed()}
        named = said(self._offered.named)
        checks: dict[str, Check] = {"specimens": named, "control": named, "paper": self.said_of_paper}
        with FieldColumn(classes="dialog", can_focus=False):
            title = f"A blind run sheet: F3 proposes it, Esc leaves; {NEEDED}"
            with Vertical(classes="top"):  # above the fields and docked: they are more than a small window holds
                yield Static(title, markup=False, classes="title")
                yield Static("", markup=False, classes="said")
            for name, label, hint in FIELDS:
                check, value = checks.get(name, nothing_to_say), first.get(name, "")
                yield Field(name, label, check, value=value, hint=hint, needed=name in MUST)

    async def _give(self) -> None:
        self.tell("...")
        if wrong := self._offered.refused(self.typed(), MUST):
            raise BadInput(wrong)
        proposal = await self._propose(self.typed())
        self.tell("")
        question = "\n".join(["Keep this run sheet?", "", *self._told(proposal)])
        if await self.app.push_screen_wait(Ask(question)):
            self.dismiss(await self._keep(proposal))


class PourForm(Form):
    """Which tubes were poured into pans, and when; gives back what was recorded, in words.

    Parameters
    ----------
    today
        The day of pouring that stands there at first.
    offered
        What the ledger offers.
    save
        Saves what was typed and returns words about it.
    """

    def __init__(self, today: str, offered: Offer, save: Callable[[str, str], Awaitable[str]]) -> None:
        super().__init__()
        self._today = today
        self._offered = offered
        self._save = save

    def compose(self) -> ComposeResult:
        """Lay out both fields."""
        with FieldColumn(classes="dialog", can_focus=False):
            way = self._offered.pouring
            done = f"{way.moist} {way.done}" if way else "poured"
            yield Static(f"{done.capitalize()}; {NEEDED}", markup=False, classes="title")
            named = said(self._offered.named)
            yield Field("poured", "poured", named, hint="as in OV 0147-0152, OV 0160", needed=True)
            yield Field("poured on", "on", nothing_to_say, value=self._today, needed=True)
            yield Static("Enter goes on, after the day it is saved; Esc leaves.", markup=False, classes="said")

    async def _give(self) -> None:
        which, day = (field.value for field in self.fields())
        self.dismiss(await self._save(which, day))


class Planning(Walking):
    """A page on which run sheets are laid out, and blind ones opened early."""

    # Laying out

    def action_plan(self) -> None:
        """Ask what a blind sheet is to hold, propose it, and keep it."""
        self.stay()
        self.work(self._plan)

    async def _plan(self) -> None:
        offered = await self.desk.read(partial(offer, rubric=self.desk.rubric), after_saves=True)

        async def keep(proposal: ProposedSheet) -> str:
            await self.desk.save(partial(wishes.keep, proposal))
            self.saved()
            return proposal.laid.sessions[0].id

        def kept(session: str | None) -> None:
            if session is not None:
                self.arrive(session)

        self.app.push_screen(PlanForm(offered, partial(_proposed, self.desk), _told, keep), kept)

    # Opening early

    def action_open_early(self) -> None:
        """Ask why the codes are opened before the session is closed; without a reason they stay hidden."""
        work = self.atwork
        if work is None:
            return
        self.stay()
        session = work.sheet.session
        if not session.is_blind:
            self.say(f"session {session.code} is not blind", problem=True)
            return
        title = f"Why are the codes of {session.code} opened early? It counts as open from then on; empty: they stay."
        self.app.push_screen(NoteBox(title, ""), lambda reason: self.work(partial(self._open_early, reason or "")))

    async def _open_early(self, reason: str) -> None:
        if self.atwork is None or not one_line(reason):
            return
        opened = open_early(self.atwork.sheet.session, reason, self.desk.now())
        told = f"opened early: {one_line(reason)}"
        await self.desk.save(lambda ledger: ledger.append([opened], reason=told))
        self.saved()
        self.arrive(opened.id)

    # What was poured

    def action_pour(self) -> None:
        """Ask what was poured to dry."""
        self.stay()
        self.work(self._pour)

    async def _pour(self) -> None:
        offered, settings = await self.desk.read(offer, after_saves=True), self.desk.settings
        today, way = self.desk.today, offered.pouring
        if way is None:
            self.say("no rubric of this ledger has things poured to dry", problem=True)
            return

        async def save(which: str, day: str) -> str:
            on_ = figures.day(day, "poured on", settings.dates)
            found = offered.find(which, "poured")
            rows = pour(found, on_, way, today=today, new_id=self.desk.new_id, how=offered.bought)
            await self.desk.save(lambda ledger: ledger.append(rows))
            self.saved()
            return f"{len(found)} poured on {shown_date(on_, settings)}; dry after {settings.drying_days} days"

        def saved(told: str | None) -> None:
            if told:
                self.say(told)

        self.app.push_screen(PourForm(shown_date(today, settings), offered, save), saved)


async def _proposed(desk: Desk, values: Mapping[str, str]) -> ProposedSheet:
    """Return the sheet that answers a filled form; several sheets are several sessions."""

    def job(ledger: "Ledger") -> ProposedSheet:
        asking = Asking(desk.settings, desk.now(), desk.new_id(), wishes.new_seed())
        return wishes.propose(values, ledger, asking)

    return await desk.read(job, after_saves=True)


def _told(proposal: ProposedSheet) -> list[str]:
    from qcledger.report.sheet import proposed  # here: words of findings are no matter of the first paint

    return proposed(proposal)
