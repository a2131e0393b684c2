"""Two forms beside the bench: a new run sheet, and a filled paper sheet typed line by line."""

from collections.abc import Awaitable, Callable, Mapping
from typing import ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import ModalScreen
from textual.widgets import Static
from textual.worker import Worker

from qcledger.bench.offer import Offer
from qcledger.bench.paper import HELP
from qcledger.errors import BadInput, QcledgerError
from qcledger.screens.dialogs import Ask
from qcledger.screens.shown import shown, shown_line
from qcledger.screens.styles import StyledOnce
from qcledger.screens.widgets.fields import NEEDED, Check, Field, FieldColumn, labelled, nothing_to_say, refuse

CONDITIONS: Final = tuple((name, name, "") for name in ("water", "brush", "lamp", "temperature", "humidity"))
"""The fields of the conditions; what each is called, and whether it is asked at all, the rubric says."""

FIELDS: Final[tuple[tuple[str, str, str], ...]] = (
    ("comparison", "comparison", "title of an open one, or a new one"),
    ("rubric", "rubric", "needed for a new comparison; commas between several"),
    ("specimens", "specimens", "as in OV 0147-0152, OV 0160"),
    ("session", "session", "a short code"),
    ("paper", "paper", "type, weight, surface"),
    ("although", "reason", ""),
    ("paper_lot", "paper lot", ""),
    *CONDITIONS,
)

MUST: Final = frozenset({"comparison", "specimens", "session", "paper"})
"""Fields without which no sheet begins; a new comparison needs its rubric too, as the hint there says."""

LEAVE: Final = "Enter goes on, after the last field it begins the sheet; Esc leaves."


def said(check: Callable[[str], str]) -> Check:
    """Return a check that says what `check` returns, or what it refuses."""

    def words(text: str) -> str:
        try:
            return check(text)
        except BadInput as refused:
            return refused.problems[0].allowed

    return words


_FORM_NAMES: Final = {"temperature_c": "temperature", "humidity_pct": "humidity"}
"""Fields of this form that are not called as the field of the record."""


class Form(StyledOnce, ModalScreen[str | None]):
    """Fields one below the other: Enter goes on to the next, and after the last one the form is given."""

    BINDINGS = [  # noqa: RUF012
        Binding("escape", "dismiss(None)", "leave", show=False),
        Binding("down", "step(1)", "next", show=False),
        Binding("up", "step(-1)", "before", show=False),
    ]
    LAST: ClassVar[str] = ""
    """The name of a last field that is empty as a rule: the form does not begin in it, where Enter would save."""

    def fields(self) -> list[Field]:
        """Return the fields in order."""
        return list(self.query(Field))

    def on_mount(self) -> None:
        """Begin with the first field that is empty."""
        fields = self.fields()
        next((field for field in fields if not field.value and field.name != self.LAST), fields[0]).focus_input()

    def action_step(self, by: int) -> None:
        """Go to another field."""
        fields = self.fields()
        here = next((n for n, field in enumerate(fields) if field.has_focus_within), 0)
        fields[min(max(here + by, 0), len(fields) - 1)].focus_input()

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        self.entered(message.field, message.value)

    @on(Field.Mended)
    def _mended(self) -> None:
        """Say no longer that a field was refused: it is another text now."""
        self.tell("")

    def entered(self, field: Field, value: str) -> None:
        """Go on to the next field; after the last one the form is given."""
        if field is self.fields()[-1]:
            self.action_give()
        else:
            self.action_step(1)

    def action_give(self) -> None:
        """Give what the fields hold."""
        self.ask(self._give)

    async def _give(self) -> None:
        raise NotImplementedError

    def tell(self, words: str) -> None:
        """Say something below the fields."""
        self.query_one(".said", Static).update(shown(words))

    def typed(self) -> dict[str, str]:
        """Return what stands in each field."""
        return {field.name or "": field.value.strip() for field in self.fields()}

    def _turn_to(self, where: str) -> None:
        """Focus the field of this name, if there is one."""
        for field in self.fields():
            if field.name == where:
                field.focus_input()
                field.scroll_visible(animate=False)

    def ask(self, job: Callable[[], Awaitable[None]]) -> None:
        """Run `job` beside the form; what is refused is said below the fields, and its field comes next."""

        async def told() -> None:
            try:
                await job()
            except BadInput as refused:
                refuse(self.fields(), refused)
                named = labelled(self.fields(), refused)
                self.tell("\n".join(problem.plain for problem in named.problems))
                # once the words have their room, or they would push it out of sight
                self.call_after_refresh(self._turn_to, refused.problems[0].where)
            except QcledgerError as error:
                self.tell(error.told())

        _: Worker[None] = self.run_worker(told, group="form", exclusive=True)


class SheetForm(Form):
    """Fields of a new run sheet; while the paper is as it was offered, it follows the comparison.

    What is asked of its conditions, and of what has not dried, is what the rubrics of the comparison say.

    Parameters
    ----------
    offered
        What the ledger offers.
    """

    def __init__(self, offered: Offer) -> None:
        super().__init__()
        self._offered = offered
        self._paper = offered.proposed().get("paper", "")

    def on_mount(self) -> None:
        """Ask for what the rubrics ask, and begin."""
        self._ask_by_rubric()
        super().on_mount()

    @on(Field.Changed)
    def _changed(self, message: Field.Changed) -> None:
        """Follow what is typed: ask for what the rubrics ask, offer the comparison's paper and say what it means."""
        message.stop()
        if message.field.name in ("comparison", "rubric"):
            self._ask_by_rubric()
        if message.field.name == "comparison":
            self._offer_paper(message)

    def _ask_by_rubric(self) -> None:
        """Name each condition as the rubrics do, and leave out those they do not ask for."""
        every = {field.name: field for field in self.query(Field)}
        work = self._offered.worked(every["comparison"].value, every["rubric"].value)
        asked = {_FORM_NAMES.get(one.field, one.field): (one.title, one.words) for one in work.conditions}
        if (way := work.pouring) is not None:
            asked["although"] = "reason", f"why {way.moist} that have not dried are tested beside {way.dry}"
        for name in (*(name for name, *_ in CONDITIONS), "although"):
            every[name].display = name in asked
            every[name].call(*asked.get(name, (name, "")))

    def fields(self) -> list[Field]:
        """Return the fields that are asked, in order."""
        return [field for field in super().fields() if field.display]

    def _offer_paper(self, message: Field.Changed) -> None:
        paper = next(field for field in self.fields() if field.name == "paper")
        own = self._offered.paper(message.value)
        if paper.value == self._paper != own:
            paper.value = self._paper = own
        paper.speak()

    def said_of_paper(self, paper: str) -> str:
        """Return what a paper means for the comparison that stands in its field."""
        return self._offered.said_of_paper(self.typed().get("comparison", ""), paper)


class BeginForm(SheetForm):
    """A new run sheet; gives back the id of its session.

    Parameters
    ----------
    offered
        What the ledger offers.
    begin
        Saves the filled form and returns the session's id.
    """

    def __init__(self, offered: Offer, begin: Callable[[Mapping[str, str]], Awaitable[str]]) -> None:
        super().__init__(offered)
        self._begin = begin

    def compose(self) -> ComposeResult:
        """Lay out the fields with what was used last."""
        first = self._offered.proposed()
        checks: dict[str, Check] = {
            "comparison": self._comparison, "specimens": said(self._offered.named), "paper": self.said_of_paper,
        }  # fmt: skip
        with FieldColumn(classes="dialog", can_focus=False):
            title = f"Begin a run sheet, open and in the order given; {NEEDED}"
            yield Static(title, markup=False, classes="title")
            for name, label, hint in FIELDS:
                check, value = checks.get(name, nothing_to_say), first.get(name, "")
                yield Field(name, label, check, value=value, hint=hint, needed=name in MUST)
            yield Static(LEAVE, markup=False, classes="said")

    def _comparison(self, title: str) -> str:
        if not title.strip():
            titles = [row.title for row in self._offered.comparisons.values()]
            return f"open: {', '.join(titles)}" if titles else ""
        return "goes on" if self._offered.comparison(title) else "a new one"

    async def _give(self) -> None:
        if wrong := self._offered.refused(self.typed(), MUST):
            raise BadInput(wrong)
        typed = self.typed()
        if await self._is_meant(typed["comparison"], typed["paper"]):
            self.dismiss(await self._begin(typed))

    async def _is_meant(self, title: str, paper: str) -> bool:
        """Ask whether a paper is meant that keeps the sheet apart; every other one is."""
        if not self._offered.is_apart(title, paper):
            return True
        question = f"Begin this sheet on {paper}?\n\n{self._offered.said_of_paper(title, paper)}"
        if await self.app.push_screen_wait(Ask(question)):
            return True
        self._turn_to("paper")
        return False


class PaperForm(Form):
    """A filled sheet, one line a specimen; each line is saved when Enter is pressed.

    Parameters
    ----------
    criteria
        Titles in the order of the marks.
    labels
        What stands for each specimen.
    save
        Saves the line of a number and returns words about it.
    """

    def __init__(self, criteria: list[str], labels: list[str], save: Callable[[int, str], Awaitable[str]]) -> None:
        super().__init__()
        self._criteria = criteria
        self._labels = labels
        self._save = save

    def compose(self) -> ComposeResult:
        """Lay out the order of the marks and a field a specimen."""
        order = "  ".join(f"{n} {title}" for n, title in enumerate(self._criteria, 1))
        with FieldColumn(classes="dialog", can_focus=False):
            yield Static(shown_line(order, "bold"), markup=False)
            yield Static(HELP, markup=False, classes="faint")
            for number, label in enumerate(self._labels):
                yield Field(str(number), label)
            yield Static("Enter saves a line; Esc leaves.", markup=False, classes="said")

    def entered(self, field: Field, value: str) -> None:
        """Save the line; an empty one is passed over."""
        if not value.strip():
            self.action_step(1)
            return

        async def save() -> None:
            field.speak("...")
            try:
                field.speak(await self._save(int(field.name or 0), value))
            except QcledgerError:
                field.speak("not saved")
                raise
            self.tell("")
            self.action_step(1)

        self.ask(save)
