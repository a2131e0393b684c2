"""The form that puts a label right: for all pieces that carry it, for some, or as a new print from a day on."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, NoReturn

from qcledger import figures, thing
from qcledger.bench import correcting, naming, typed
from qcledger.bench.correcting import REASONS, WORDS, Corrected
from qcledger.bench.unpacking import find_sticker
from qcledger.bench.worked import of_ledger
from qcledger.errors import BadInput, bad
from qcledger.ledger.identity import who_is_who
from qcledger.records import LabelVersion, Paint, Record
from qcledger.screens.forms.form import FormLine, FormSubject, Ready, Values, open_form
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_date
from qcledger.screens.widgets.fields import Check
from qcledger.settings import reference_files
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Which = Callable[["Ledger"], LabelVersion]
"""Returns the label that is meant; raises BadInput where it is not one's own."""
ALL, SOME, PRINT = "all", "some", "new print"
NAMED: Final = 8
"""Most pieces that are named above the fields; the question before a save names all it is for."""
CHECKED: Final = 3
"""Most lines of our checks in the question before a save."""
UNREMARKED: Final = "Our checks of labels have nothing to say of it."
CHOICES: Final = (ALL, SOME, PRINT)
HINTS: Final = {
    "index_names": "as printed, parted by commas",
    "facts": "what a rubric asks for, parted by semicolons, each as its key: what is printed",
    "source": "the piece itself, its wrapper, a chart",
    "format": "empty: it holds for each",
}
WHY: Final = f"Why, by its key alone: {', '.join(f'{key} {text}' for key, text in REASONS.items())}; or in words."
FOR: Final = (
    "For: all specimens that carry it stand there; some takes stickers below, new print a day, "
    "and makes another label for what came from then on."
)
OTHERS: Final = "c and t in Stock say what maker and paint are called now."
OF_PIGMENTS: Final = ("index_names", "constitution_numbers", "chemical_names", "cas_numbers")
"""Fields that are asked only where labels carry such a thing."""


@dataclass(frozen=True, slots=True)
class StandingLabel:
    """A label as it stands, its paint by maker and name and by name, and the stickers of those that carry it.

    `asked` are the fields of what labels of such things carry.
    """

    label: LabelVersion
    title: str
    paint: str
    stickers: tuple[str, ...]
    formats: tuple[str, ...]
    asked: frozenset[str]


async def put_right(page: Page, which: Which, typed_already: Values | None = None) -> None:
    """Open the form of a label as it stands, with what was typed into another form over it."""
    stands = await page.desk.read(lambda ledger: _load(ledger, which(ledger)), after_saves=True)
    count = len(stands.stickers)
    seen = shown_date(stands.label.seen_on, page.desk.settings)
    carried = "1 specimen carries it" if count == 1 else f"{count or 'no'} specimens carry it"
    more = f" and {count - NAMED} more" if count > NAMED else ""
    form = FormSubject(
        title=f"label of {stands.title}",
        draft=f"put label right {stands.label.id}",
        lines=_lines(stands),
        read=lambda ledger, values: _read(page, ledger, stands, values),
        about=[
            f"Label seen on {seen}; {carried}{': ' * bool(count)}{', '.join(stands.stickers[:NAMED])}{more}.",
            f"As it stands; type over what is wrong. {thing.worded(OTHERS)}",
            FOR,
            thing.worded(WHY),
        ],
        values={name: correcting.text_of(stands.label, name) for name in WORDS} | {"which": ALL},
        typed=typed_already or {},
        first=next(name for name in WORDS if name in stands.asked),
        chapter="stock",
    )
    open_form(page, form)


def _load(ledger: "Ledger", label: LabelVersion) -> StandingLabel:
    from qcledger.ledger.words import formats

    known = who_is_who(ledger)
    one = naming.find(known, Paint.TABLE, label.paint, "paint").one
    with ledger.reading() as connection:
        offered = tuple(formats(connection))
    stickers = tuple(piece.sticker for piece in correcting.carrying(ledger, label))
    parts = frozenset(part.key for part in of_ledger(ledger).label)
    return StandingLabel(label, naming.title(known, one), one.name, stickers, offered, parts)


def _lines(stands: StandingLabel) -> tuple[FormLine, ...]:
    facts = (
        FormLine(name, word, HINTS.get(name, "as printed"), check=_then(correcting.text_of(stands.label, name)))
        for name, word in WORDS.items()
        if name in stands.asked or name not in OF_PIGMENTS or getattr(stands.label, name)
    )
    return (
        *facts,
        FormLine("which", "for", "all that carry it, some, or new print", needed=True, check=_choice),
        FormLine("pieces", "specimens", "for some: stickers, parted by commas"),
        FormLine("since", "from day", "for a new print: what came from this day on"),
        FormLine("reason", "because", f"{', '.join(REASONS)}, or in your own words", needed=True,
             check=lambda text: thing.worded(REASONS.get(one_line(text).casefold(), ""))),
    )  # fmt: skip


def _then(stood: str) -> Check:
    """Return a check that says what stands, beside what is typed in its place."""

    def said(text: str) -> str:
        return "" if one_line(text) == one_line(stood) else f"then {one_line(stood) or 'nothing'}"

    return said


def _choice(text: str) -> str:
    try:
        found = typed.word(text, "for", CHOICES) if text.strip() else ""
    except BadInput as refused:
        return refused.problems[0].allowed
    return "" if found == text else found


def _read(page: Page, ledger: "Ledger", stands: StandingLabel, values: Values) -> Ready:
    from qcledger.report.recounted import of_label
    from qcledger.report.relabelled import peers_words

    only, since, reason = _asked(page, ledger, values)
    said = correcting.read(stands.label, values, stands.formats)
    now = ledger.get(LabelVersion, stands.label.id) or stands.label
    wanted = correcting.weigh(ledger, now, said, ledger.new_id, only=only, since=since)
    print_ = f"; a new print from {shown_date(since, page.desk.settings)} on" if since else ""
    lines = (
        *wanted.changes,
        f"{wanted.words}{print_}.",
        *peers_words(ledger, wanted),
        *of_label(ledger, wanted),
        *(_checked(wanted.after, stands.paint) if "index_names" in stands.asked else ()),
        f"Because: {reason}.",
    )
    return Ready(
        records=wanted.records,
        said=f"{wanted.counts}; z takes it back",
        back=_back(stands.title, wanted),
        question="\n".join([f"Put the label of {stands.title} right?", "", *lines]),
        reason=reason,
    )


def _checked(label: LabelVersion, paint: str) -> list[str]:
    """Return what our checks say of a label as it will stand, what goes farthest first; the rest is counted."""
    from qcledger.labels import about, missing
    from qcledger.rubric import reference

    ours = reference.load(reference_files())
    said = sorted(about(label, paint, ours), key=lambda one: -one.level)
    lines = [f"{WORDS.get(one.field, one.field)}, {one.level}: {one.words}." for one in said]
    lines += [f"Not typed: {one}." for one in missing(label, ours)]
    more = [f"And {len(lines) - CHECKED} more, on the page of the label."] if len(lines) > CHECKED else []
    return [*lines[:CHECKED], *more] or [UNREMARKED]


def _asked(page: Page, ledger: "Ledger", values: Values) -> tuple[list[str] | None, date | None, str]:
    """Return for which pieces, from which day on, and why; raises BadInput with what does not fit together."""
    desk, form = page.desk, typed.FormReader(values)

    def day(text: str, where: str) -> date:
        return figures.past_day(text, where, desk.today, desk.settings.dates)

    which = form.must("which", lambda text, where: typed.word(text, where, CHOICES), default=None)
    only = since = None
    if which == SOME:
        only = form.must("pieces", lambda text, where: _pieces(ledger, text, where), default=None)
    elif which is not None:
        form.read("pieces", lambda text, where: _nothing(text, where, SOME), default=None)
    if which == PRINT:
        since = form.must("since", day, default=None)
    elif which is not None:
        form.read("since", lambda text, where: _nothing(text, where, PRINT), default=None)
    reason = form.must("reason", lambda text, _: correcting.reason_of(text), default="")
    form.done()
    return only, since, reason


def _nothing(text: str, where: str, choice: str) -> NoReturn:
    raise bad(where, text, f"nothing, unless it is for: {choice}")


def _pieces(ledger: "Ledger", text: str, where: str) -> list[str]:
    stickers = typed.parts(text)
    if not stickers:
        raise bad(where, text, "stickers of specimens that carry this label, as in OV 0001, 2")
    try:
        return [find_sticker(ledger, one) for one in stickers]
    except BadInput as refused:
        raise bad(where, text, refused.problems[0].allowed) from refused


def _back(title: str, wanted: Corrected) -> Callable[["Ledger", Sequence[Record], Sequence[Record]], str]:
    def back(ledger: "Ledger", _: Sequence[Record], __: Sequence[Record]) -> str:
        if correcting.take_back(ledger, wanted):
            return f"taken back, label of {title}: {wanted.turned.counts}"
        return f"not taken back: the label of {title} or a specimen of it was changed since"

    return back
