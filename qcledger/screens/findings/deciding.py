"""What is asked of a maker and decided of a finding, from the page Findings and from Why."""

from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.records.finding_key import FindingKey
from qcledger.screens.findings.asking import CellPlace, finding_at, label_key_at
from qcledger.screens.findings.choose import Choose
from qcledger.screens.page import Page
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.bench.public.answers import Letter
    from qcledger.bench.public.asking import AskingOffer
    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings

Then = Callable[[FindingKey, str], Awaitable[None]]
"""Takes a finding's key and title."""
CARD: Final = "a maker is asked from its card, which m opens, or about one finding from its Why"


class Decides(Page):
    """A page that speaks of a finding, or of all findings of a maker."""

    _kept: "KeptFindings | None"

    @property
    def spoken_of(self) -> CellPlace | None:
        """The finding that keys speak of; None where there is none."""
        raise NotImplementedError

    @property
    def asked_in(self) -> str | None:
        """The comparison by id, or None for everything tested."""
        raise NotImplementedError

    @property
    def of_whole_maker(self) -> bool:
        """Whether a question is about all findings of the maker, as on its card."""
        return False

    def why_not(self) -> str:
        """Return why no maker can be asked here; empty where one can."""
        return ""

    def action_prices(self) -> None:
        """Show what was paid for the paints of the maker spoken of; of every maker where there is none."""
        from qcledger.screens.prices import PricesPage

        place = self.spoken_of
        spoken = (place.maker, place.criterion or None) if place else (None, None)
        self.app.push_screen(PricesPage(self.desk, *spoken))

    def action_shopping(self) -> None:
        """Show what to look at and what to buy next."""
        from qcledger.screens.shopping import ShoppingPage

        self.app.push_screen(ShoppingPage(self.desk, self._kept, self.asked_in))

    def action_ask(self) -> None:
        """Ask the maker about what is to confirm or settled."""
        if (refused := self.why_not()) or self.spoken_of is None:
            self.say(refused, problem=True)
        else:
            self.work(partial(self._ask, self.spoken_of), instead_of="form")

    async def _ask(self, place: CellPlace) -> None:
        from qcledger.screens.forms.asking import ask_maker

        comparison, kept, whole = self.asked_in, self._kept, self.of_whole_maker

        def ask(ledger: "Ledger") -> "AskingOffer":
            from qcledger.report.kept import KeptFindings
            from qcledger.report.said import offer

            found = (kept or KeptFindings()).reading(ledger, comparison).whole.only(maker=place.maker)
            if not whole:
                found = found.only(criterion=place.criterion, format=place.format)
            return offer(found.findings, found.label_facts)

        ask_maker(self, await self.desk.read(ask))

    def action_answer(self) -> None:
        """Type what the maker answered, or amend it."""
        place = self.spoken_of
        if (refused := self.why_not()) or place is None or place.maker is None:
            self.say(refused or CARD, problem=True)
        else:
            self.work(partial(self._answer, place.maker), instead_of="form")

    async def _answer(self, maker: str) -> None:
        from qcledger.screens.forms.asking import answer_of_maker, type_answer

        def choose(found: "Sequence[Letter]") -> None:
            state = {True: "awaited", False: "answered"}
            answers = [(one.id, f"asked {one.asked_on}, {state[one.awaited]}: {one.asked}"[:200]) for one in found]
            by_id = {one.id: one for one in found}
            first = next((one.id for one in found if one.awaited), found[-1].id)

            def take(id_: str | None) -> None:
                if id_ is not None:
                    self.call_after_refresh(type_answer, self, by_id[id_])

            self.app.push_screen(Choose("Which question?", answers, first), take)

        await answer_of_maker(self, maker, choose)

    def action_private(self) -> None:
        """Keep the finding private, or no longer."""
        self._with_finding(self._private)

    async def _private(self, key: FindingKey, title: str) -> None:
        from qcledger.screens.forms.deciding import keep_private

        await keep_private(self, key, title)

    def action_retest(self) -> None:
        """Have it tested again: why, and how."""
        self._with_finding(partial(self._decide, DecisionKind.RETEST))

    def action_correct(self) -> None:
        """Correct what was said or printed of it."""
        self._with_finding(partial(self._decide, DecisionKind.CORRECT))

    async def _decide(self, kind: DecisionKind, key: FindingKey, title: str) -> None:
        from qcledger.screens.forms.deciding import decide

        decide(self, kind, key.subject_table, key.maker, title)

    def action_note(self) -> None:
        """Write down what a reader says of this paint."""
        self._with_finding(self._note)

    async def _note(self, key: FindingKey, title: str) -> None:
        from qcledger.screens.forms.notes import write_note

        def ask(ledger: "Ledger") -> str:
            from qcledger.bench.public.makers import name_of
            from qcledger.ledger.identity import who_is_who

            return name_of(ledger, who_is_who(ledger), key.maker)

        name = await self.desk.read(ask)
        await write_note(self, {"maker": name, "format": key.format, "fault": title.rpartition(", ")[2]})

    def _with_finding(self, then: Then) -> None:
        place = self.spoken_of
        if place is None or place.maker is None:
            self.say("this line is a heading: mark a maker's line first", problem=True)
        else:
            self.work(partial(self._found, place, then), instead_of="form")

    async def _found(self, place: CellPlace, then: Then) -> None:
        comparison, kept = self.asked_in, self._kept

        def ask(ledger: "Ledger") -> tuple[FindingKey, str] | None:
            from qcledger.report.said import key_of

            found = finding_at(kept, comparison, place, ledger)
            if found is None:
                return label_key_at(kept, comparison, place, ledger)
            return key_of(found), f"{found.maker_name}, {found.format}, {found.criterion.title}"

        found = await self.desk.read(ask)
        if found is None:
            self.say("there is no finding here: a trait, or nothing tested", problem=True)
        else:
            await then(*found)
