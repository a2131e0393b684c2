"""The conditions of a stage as a form: what is noted, what was noted last, and why what was noted is amended."""

import json
from collections.abc import Awaitable, Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from qcledger.bench import conditions
from qcledger.bench.conditions import Noted, WrittenConditions, value_text
from qcledger.screens.bench.forms import Form
from qcledger.screens.dialogs import Anew, Typing
from qcledger.screens.drafts import Drafts
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_line
from qcledger.screens.widgets.fields import Field, FieldColumn

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

REASON: Final = "needed only where something noted is changed"
TAKEN_UP: Final = "taken up where it was left and not saved: F3 saves it, F7 throws it away"
LEAVE: Final = (
    "Enter goes on, after the last field it saves; F3 saves at once; F4 goes to another stage; Esc leaves; "
    "F7 throws away what is typed."
)
OFFERED: Final = "not noted here yet; offered as noted last"


class ConditionsForm(Form):
    """What one stage is worked under; gives back what is to be said, or the name of another stage to go to.

    Parameters
    ----------
    noted
        The conditions as they stand.
    mark
        The decimal mark.
    save
        Saves the texts by field, with a reason, and returns what to say.
    drafts
        Where what is typed and not saved is kept, a draft for each stage.
    """

    LAST = "reason"
    BINDINGS = [  # noqa: RUF012
        Binding("f3", "give", "save", show=False),
        Binding("f4", "other", "other stage", show=False),
        Binding("f7", "anew", "throw away", show=False),
    ]

    def __init__(
        self, noted: Noted, mark: str, save: Callable[[Mapping[str, str]], Awaitable[str]], drafts: Drafts
    ) -> None:
        super().__init__()
        self._drafts, self._draft = drafts, f"conditions {noted.session.id} {noted.stage}"
        self._drafting = Typing(self, self._keep_draft)
        self._anew = Anew()
        self._first: dict[str, str] | None = None
        self._values: dict[str, str] = {}  # kept here, because the fields are gone first when the form is left
        self._noted = noted
        self._mark = mark
        self._save = save
        self.other = ""
        """The stage that was asked for instead."""

    def compose(self) -> ComposeResult:
        """Lay out the fields with what is noted, or what was noted last."""
        noted = self._noted
        with FieldColumn(classes="dialog", can_focus=False):
            title = f"Conditions of session {noted.session.code}, stage {noted.stage}"
            yield Static(shown_line(title, "bold"), markup=False)
            for name, label in noted.titles.items():
                value = noted.offered(name)
                text = "" if value is None else value_text(value, self._mark)
                yield Field(name, label, self._said(name), value=text, hint=noted.hints.get(name, ""))
            yield Field(self.LAST, self.LAST, hint=REASON)
            yield Static(shown_line(f"Stages: {', '.join(noted.names)}"), markup=False, classes="faint")
            yield Static(LEAVE, markup=False, classes="said")

    def on_mount(self) -> None:
        """Take up what was left half-typed, and begin."""
        first = self.typed()
        left = self._left()
        for field in self.fields():
            field.value = left.get(field.name or "", field.value)
        self._first = first
        if left:
            self.tell(TAKEN_UP)

    def _left(self) -> dict[str, str]:
        try:
            left = json.loads(self._drafts.get(self._draft) or "{}")
        except ValueError:  # of another program
            return {}
        return {name: text for name, text in left.items() if isinstance(text, str)} if isinstance(left, dict) else {}

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        """Keep a draft in a moment."""
        message.stop()
        if self._first is not None:
            self._values = self.typed()
            self._drafting.typed()

    def _keep_draft(self) -> None:
        if self._first is not None and self._values:
            self._drafts.keep(self._draft, json.dumps(self._values) if self._values != self._first else "")

    def on_unmount(self) -> None:
        """Keep what was typed last."""
        self._drafting.stop()
        self._keep_draft()

    def _said(self, name: str) -> Callable[[str], str]:
        """Return what says beside a field what was noted there, where something else stands in it now."""
        stands = self._noted.stands(name)
        then = value_text(stands, self._mark)

        def words(text: str) -> str:
            if stands is None:
                return OFFERED if text.strip() else ""
            return f"was {then}: a reason is needed" if text.strip() != then else ""

        return words

    async def _give(self) -> None:
        said = await self._save(self.typed())
        self._drafting.stop()
        self._first = None
        self._drafts.drop(self._draft)
        self.dismiss(said)

    def action_anew(self) -> None:
        """Throw away what is typed, its draft too; once more brings it back."""
        if self._first is None:
            return
        self._drafting.stop()
        values, said = self._anew.turn(self.typed(), self._first)
        for field in self.fields():
            field.value = values[field.name or ""]
        if values == self._first:
            self._values = dict(values)
            self._drafts.drop(self._draft)
        self.tell(said)

    def action_other(self) -> None:
        """Go to the conditions of the next stage; nothing is saved."""
        names = self._noted.names
        self.other = names[(names.index(self._noted.stage) + 1) % len(names)]
        self.dismiss(None)


async def ask_conditions(page: Page, session: str, stage: str = "") -> None:
    """Show the form of a stage in front of a page; without a stage, of the first where something is not noted."""
    desk = page.desk
    noted = await desk.read(lambda ledger: conditions.load(ledger, session, stage), after_saves=True)
    mark = desk.settings.decimal_mark

    async def save(texts: Mapping[str, str]) -> str:
        values = conditions.typed(texts)

        def job(ledger: "Ledger") -> WrittenConditions:
            return conditions.write(ledger, noted, values, reason=texts["reason"], new_id=ledger.new_id)

        written = await desk.save(job)
        if not written.told:
            return f"{noted.stage}: noted so already"
        page.did(partial(_take_back, written=written, name=f"session {noted.session.code}, {noted.stage}", mark=mark))
        return f"{noted.stage}: {', '.join(written.told)}"

    form = ConditionsForm(noted, mark, save, desk.drafts)

    async def shown(said: str) -> None:
        page.saved()
        await page.fill()
        page.say(said)

    def given(said: str | None) -> None:
        if said is not None:
            page.work(lambda: shown(said))
        elif form.other:
            page.work(lambda: ask_conditions(page, session, form.other))

    page.app.push_screen(form, given)


async def _take_back(page: Page, *, written: WrittenConditions, name: str, mark: str) -> str:
    if await page.desk.save(lambda ledger: conditions.write_back(ledger, written)):
        return f"taken back at {name}: {'; '.join(written.back(mark))}"
    return f"conditions of {name} were amended since, and stay as they are"
