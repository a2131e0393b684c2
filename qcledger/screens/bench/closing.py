"""Closing a session: what its checks say, the control as drawn, and the tester's decision."""

import os
import sys
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from qcledger.bench import closing, conditions
from qcledger.bench.opening import keep_decided
from qcledger.errors import bad
from qcledger.records import Session
from qcledger.screens import keys
from qcledger.screens.bench.conditions import ask_conditions
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, NoteBox
from qcledger.screens.reading import ReadingPage, Told
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Record
    from qcledger.report.closing import SessionChecks
    from qcledger.report.strips import Ink


def ink_here() -> "Ink":
    """Return what this terminal can draw with."""
    from qcledger.report.strips import ink_of

    stream = sys.__stderr__ or sys.__stdout__
    return ink_of(stream.encoding if stream else None, os.environ)


class Closing(ReadingPage):
    """The checks of one session, and what is decided about it.

    Parameters
    ----------
    desk, session
        Where to ask, and the id of the session.
    """

    KEY = "closing"
    TITLE = "Session"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("closing"))

    def __init__(self, desk: Desk, session: str) -> None:
        super().__init__(desk)
        self._session = session
        self._check: SessionChecks | None = None

    async def fill(self) -> None:
        """Ask for the checks and show them, the control of what moved below."""
        width = self.room()

        def ask(ledger: "Ledger") -> "tuple[SessionChecks, str, Told]":
            from qcledger.report.closing import check_session, state

            session = ledger.get(Session, self._session)
            if session is None:
                raise bad("session", self._session, "a session that the ledger still holds")
            check = check_session(ledger, session)
            return check, state(check), _told(ledger, check, width)

        check, state, told = await self.desk.read(ask, after_saves=True)
        self._check = check
        self.head(check.session.code, state, f"tester {check.session.tester}")
        verbs = [action.id.partition(".")[2] for action in keys.actions_of(self.KEY) if action.rank is not None]
        self.foot([], *filter(self.works, verbs))
        self.tell(told, width)

    # Deciding

    def works(self, verb: str) -> bool:
        """Whether a decision can be made: only what is open can be closed, and only what is void can count again."""
        check = self._check
        can = {
            "close": check is not None and check.session.closed_at is None,
            "reinstate": check is not None and check.is_void,
        }
        return can.get(verb, True)

    def action_close_session(self) -> None:
        """Close a session at work; what is open is noted in the decision."""
        check = self._check
        if check is None or check.session.closed_at is not None:
            self.say("this session is closed already; k keeps it, v voids it", problem=True)
            return
        gaps = f" Noted as open: {check.gaps}." if check.gaps else ""
        question = f"Close session {check.session.code}?{gaps} Its codes are opened; its sheet can then only be read."
        records = partial(closing.close, check.session, check.gaps)

        def answered(yes: bool | None) -> None:
            if yes:
                self.work(partial(self._save, records, "the session is closed"))

        self.app.push_screen(Ask(question), answered)

    def action_observations(self) -> None:
        """List what stands on the sheet, by code while it is blind; there each can be amended."""
        from qcledger.screens.record.behind import Behind

        def ask(ledger: "Ledger") -> list[str]:
            from qcledger.ledger.queries_sheet import standing

            with ledger.reading() as connection:
                return [seen.id for seen in standing(connection, self._session)]

        code = self._check.session.code if self._check is not None else ""
        self.app.push_screen(Behind(self.desk, f"session {code}", ask))

    def action_conditions(self) -> None:
        """Note or amend what a stage was worked under, also after the session was closed."""
        self.work(partial(ask_conditions, self, self._session))

    def action_retest(self) -> None:
        """Have the session done again: why, and how. One of its specimens alone is chosen on that one's own page."""
        self.work(self._retest)

    async def _retest(self) -> None:
        from qcledger.screens.forms.deciding import decide

        check, session = self._check, self._session
        if check is None:
            return
        made_by = await self.desk.read(lambda ledger: ledger.made_by(Session, session))
        if made_by:
            self.say(f"session {check.session.code} is one of {made_by}, who alone does it again", problem=True)
        else:
            decide(self, DecisionKind.RETEST, Session.TABLE, session, f"Session {check.session.code}")

    def action_void(self) -> None:
        """Void the session, with the reasons of the check or others."""
        self._decide("Void it, because", lambda check, reason: partial(closing.void, check.session, reason))

    def action_keep(self) -> None:
        """Keep the session as it is, with a reason."""
        self._decide("Keep it as it is, because", self._kept(DecisionKind.KEEP))

    def action_reinstate(self) -> None:
        """Let a void session count again."""
        if self._check is None or not self._check.is_void:
            self.say("this session is not void", problem=True)
        else:
            self._decide("Let it count again, because", self._kept(DecisionKind.REINSTATE))

    @staticmethod
    def _kept(kind: DecisionKind) -> "Callable[[SessionChecks, str], Callable[..., list[Record]]]":
        def made(check: "SessionChecks", reason: str) -> "Callable[..., list[Record]]":
            return lambda **who: [closing.decide(check.session, kind, reason, **who)]

        return made

    def _decide(self, title: str, records: "Callable[[SessionChecks, str], Callable[..., list[Record]]]") -> None:
        check = self._check
        if check is None:
            return
        drafts, name = self.desk.drafts, f"{title} {self._session}"

        async def save(reason: str) -> None:
            await self._save(records(check, reason), "")
            drafts.drop(name)

        def written(reason: str | None) -> None:
            if not reason or not reason.strip():
                self.say("nothing decided: a decision needs a reason", problem=True)
                return
            # Esc leaves a note with its text, so it cannot be what decides.
            question = f"Session {check.session.code}: {title[0].lower()}{title[1:]}: {reason}"
            self.app.push_screen(Ask(question), lambda yes: self.work(partial(save, reason)) if yes else None)

        proposed = check.reason if title.startswith("Void") and check.proposal == "void" else ""
        text = drafts.get(name) or proposed
        self.app.push_screen(NoteBox(title, text, partial(drafts.keep, name), proposed), written)

    async def _save(self, records: "Callable[..., list[Record]]", reason: str) -> None:
        at = self.desk.now()

        def job(ledger: "Ledger") -> None:
            who = {"by": ledger.daybook.tester, "zone": ledger.zone}
            keep_decided(ledger, self._session, records(**who, at=at, new_id=self.desk.new_id), reason)

        await self.desk.save(job)
        self.saved()
        await self.fill()


def _conditions(ledger: "Ledger", session: Session, width: int) -> list[str]:
    from qcledger.report.layout import paragraph

    return [line for told in conditions.lines(ledger, session) for line in paragraph(told, rest="    ", width=width)]


def _told(ledger: "Ledger", check: "SessionChecks", width: int) -> Told:
    from qcledger.findings.repeats import scatter_of
    from qcledger.report import chart
    from qcledger.report.closing import check_lines, criteria_of
    from qcledger.report.layout import paragraph

    told: Told = [("Checks", check_lines(check, width))]
    noted = ("Conditions", _conditions(ledger, check.session, width))
    if check.session.is_blind:  # a drawn control would be one more thing to know its place by
        return [*told, noted]
    moved = {one.key for one in check.drift.beyond} | {one.criterion for one in check.drift.moved}
    looks = {key: own for key, own in check.drift.looks.items() if key in moved}
    # The error measured over the ledger, as the tester's charts have it: one control has one set of limits.
    series = chart.series_of(looks, criteria_of(ledger), scatter_of(ledger.tested_rows())) if looks else []
    if series:
        ink = ink_here()
        told.append(("Control", [*chart.charts(series, width, ink), "", *paragraph(chart.label(ink), width=width)]))
    return [*told, noted]
