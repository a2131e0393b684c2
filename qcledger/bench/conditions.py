"""What a stage is worked under, noted and amended at any time: what stood before stays, with the reason."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from qcledger.bench import sheets, stages, worked
from qcledger.bench.begin import LIMITS
from qcledger.bench.worked import Conditions
from qcledger.errors import bad
from qcledger.figures import limited
from qcledger.records import Session, Stage
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK

if TYPE_CHECKING:
    from collections.abc import Callable

    from qcledger.ledger import Ledger

"""The lowest and highest of what is measured, in degrees Celsius and in percent."""
NOTED: Final = "conditions noted"
"""The reason of a stage's entry that only fills in what was not noted."""

Values = Mapping[str, str | float | None]
"""Conditions by field, as `worked.Conditions` has them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """The conditions of one stage as they stand.

    Parameters
    ----------
    session, stage, names
        The session; the stage's name; the names of all its stages in order.
    row
        The stage's row; None before it has one.
    last
        What was noted last at another stage of the session, for what is not noted at this one.
    titles, hints
        What the rubrics of its comparison ask, by field, and what is noted all the same; what to type, in words.
    made_by
        Letters and name of the other tester whose session it is; empty for one's own.
    """

    session: Session
    stage: str
    names: tuple[str, ...]
    row: Stage | None
    last: Values
    titles: Conditions
    hints: Mapping[str, str]
    made_by: str

    def stands(self, field: str) -> str | float | None:
        """Return what is noted for a condition at this stage."""
        return getattr(self.row, field) if self.row is not None else None

    def called(self, field: str) -> str:
        """Return what a condition is called."""
        return self.titles.get(field, worked.UNASKED[field])

    def offered(self, field: str) -> str | float | None:
        """Return what a form shows at first: what is noted, else what was noted last."""
        stands = self.stands(field)
        return self.last.get(field) if stands is None else stands

    @property
    def missing(self) -> list[str]:
        """The conditions that are not noted at this stage, in words."""
        return [word for field, word in self.titles.items() if self.stands(field) is None]


def load(ledger: "Ledger", session: str, stage: str) -> Noted:
    """Return the conditions of a stage of a session; without a name, of its first one where anything is missing.

    Raises
    ------
    BadInput
        When there is no such session, or it has no such stage.
    """
    sheet = sheets.load(ledger, session, stage or None)
    rows = stages.by_name(ledger, sheet.session)
    names = stages.arranged({*rows, *sheet.order} if not rows else set(rows), sheet.order)
    work = worked.of_session(ledger, sheet.session)
    titles = worked.titles(work, rows.values())
    if not stage:
        gaps = (name for name in names if any(getattr(rows.get(name), field, None) is None for field in titles))
        stage = next(gaps, names[-1])
    elif stage not in {*names, *sheet.order}:
        raise bad("stage", stage, ", ".join(names))
    return Noted(
        session=sheet.session,
        stage=stage,
        names=names if stage in names else stages.arranged({*names, stage}, sheet.order),
        row=rows.get(stage),
        last=_last([rows[name] for name in names if name in rows and name != stage], titles),
        titles=titles,
        hints={one.field: one.words for one in work.conditions},
        made_by=ledger.made_by(Session, session),
    )


def _last(others: list[Stage], fields: Iterable[str]) -> Values:
    found: dict[str, str | float | None] = {}
    for row in others:
        found |= {field: value for field in fields if (value := getattr(row, field)) is not None}
    return found


def typed(texts: Mapping[str, str]) -> Values:
    """Return the conditions in texts by field; an empty text is a condition that is not noted.

    Raises
    ------
    BadInput
        Naming the field, for a number beyond its limits or none at all.
    """
    return {
        field: limited(texts.get(field, ""), field, *LIMITS[field])
        if field in LIMITS
        else one_line(texts.get(field, "")) or None
        for field in worked.UNASKED
    }


def changed(noted: Noted, values: Values) -> list[str]:
    """Return the conditions that would stand otherwise than they were noted, by field."""
    return [field for field in worked.UNASKED if noted.stands(field) not in (None, values[field])]


def differing(noted: Noted, values: Values) -> tuple[str, ...]:
    """Return in words each condition that would stand otherwise, now and what stood."""
    differ = (field for field in worked.UNASKED if noted.stands(field) != values[field])
    return tuple(_told(noted.called(field), noted.stands(field), values[field]) for field in differ)


@dataclass(frozen=True, slots=True)
class WrittenConditions:
    """What was noted: the stage before and now, and in words what stands now and what stood then."""

    before: Stage
    now: Stage
    told: tuple[str, ...]
    titles: Conditions

    def back(self, mark: str = ".") -> list[str]:
        """Return in words what each condition is again once this is taken back, and what it is no longer."""
        pairs = {
            self.titles.get(field, word): (getattr(self.before, field), getattr(self.now, field))
            for field, word in worked.UNASKED.items()
            if getattr(self.before, field) != getattr(self.now, field)
        }
        return [
            f"{word} {value_text(now, mark)} is gone"
            if then is None
            else f"{word} {value_text(then, mark)} again, no longer {value_text(now, mark)}"
            for word, (then, now) in pairs.items()
        ]


def write_back(ledger: "Ledger", written: WrittenConditions) -> bool:
    """Let the conditions stand as before, if they still are as they were written; say whether they were."""
    stands = ledger.get(Stage, written.now.id) == written.now
    if stands:
        ledger.append([written.before], reason=TAKEN_BACK)
    return stands


def write(
    ledger: "Ledger", noted: Noted, values: Values, *, reason: str, new_id: "Callable[[], str]"
) -> WrittenConditions:
    """Note the conditions of a stage, and return what was noted; nothing is written where all stands so already.

    Raises
    ------
    BadInput
        When the session is another tester's, or what was noted is changed without a reason.
    """
    written = weigh(ledger, noted, values, reason=reason, new_id=new_id)
    if written.now != written.before:
        ledger.append([written.now], reason=one_line(reason) or NOTED)
    return written


def weigh(
    ledger: "Ledger", noted: Noted, values: Values, *, reason: str, new_id: "Callable[[], str]"
) -> WrittenConditions:
    """Return what noting the conditions of a stage comes to; nothing is written. Raises BadInput as `write` does."""
    if noted.made_by:
        raise bad(f"session {noted.session.code}", f"a session of {noted.made_by}", "a session of your own")
    standing = stages.by_name(ledger, noted.session).get(noted.stage)
    now = replace(noted, row=standing)
    amended = changed(now, values)
    if amended and not one_line(reason):
        names = ", ".join(now.called(field) for field in amended)
        raise bad("reason", "", f"why {names} is amended; what was noted stays beside it")
    row = standing or Stage(id=new_id(), session=noted.session.id, name=noted.stage)
    fresh = replace(row, **values)  # type: ignore[arg-type]
    if fresh == standing:
        return WrittenConditions(row, row, (), noted.titles)
    return WrittenConditions(row, fresh, differing(now, values), noted.titles)


def _told(title: str, then: str | float | None, now: str | float | None) -> str:
    was = f", was {value_text(then)}" if then is not None else ""
    return f"{title} {value_text(now)}{was}"


def value_text(value: str | float | None, mark: str = ".") -> str:
    """Return a condition as text: a number in its shortest form, and words for one that is not noted."""
    if value is None:
        return "not noted"
    return f"{value:g}".replace(".", mark) if isinstance(value, float | int) else value


def lines(ledger: "Ledger", session: Session) -> list[str]:
    """Return the conditions of each stage in a line, and below it what was amended: now, then, and why."""
    found = []
    titles = {**worked.UNASKED, **worked.of_session(ledger, session).titles}
    for row in stages.of_session(ledger, session):
        told = [
            _told(title, None, value) for field, title in titles.items() if (value := getattr(row, field)) is not None
        ]
        found.append(f"{row.name}: {', '.join(told) or 'nothing noted'}")
        found += _amended(ledger, row, titles)
    return found


def _amended(ledger: "Ledger", row: Stage, titles: Conditions) -> list[str]:
    """Return what was changed in a stage's conditions since they were first noted, in the order of the entries."""
    from qcledger.ledger.versions import versions

    found: list[str] = []
    before: Stage | None = None
    with ledger.reading() as connection:
        as_written = versions(connection, Stage, row.id)
    for one in as_written:
        written = one.record
        if before is not None:
            parts = [
                _told(title, then, getattr(written, field))
                for field, title in titles.items()
                if (then := getattr(before, field)) is not None and then != getattr(written, field)
            ]
            found += [f"amended at {row.name}: {', '.join(parts)}; {one.reason}"] if parts else []
        before = written
    return found
