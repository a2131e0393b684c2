"""What a ledger offers for a new run sheet, and the plan that a filled form makes of it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from qcledger import stickers
from qcledger.bench import stages
from qcledger.bench.begin import LIMITS, MOST_LINES, Conditions, SheetPlan, find
from qcledger.bench.onpaper import OnPaper, lots, on_paper, papers
from qcledger.bench.runsheet import judged_at
from qcledger.bench.worked import Worked, of_comparison, of_keys
from qcledger.errors import BadInput, Problem, bad
from qcledger.figures import limited
from qcledger.records import Comparison, Paint, RubricText, RunRow, Session, Sheet, Specimen, Stage
from qcledger.settings import load_settings, rubric_files
from qcledger.vocab import USUALLY_BOUGHT, BoughtAs, Role

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Rubric
    from qcledger.rubric.working import Pouring


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What can be chosen from, and what was chosen last.

    Parameters
    ----------
    comparisons
        Those still open, by title in lower case.
    specimens, paints
        By sticker; names of paints by id.
    rubrics
        Files of the rubrics at hand, by name.
    code, tester, letters
        A code no session has yet; the tester of this daybook, and what its stickers begin with.
    sheet, stage, control
        The last sheet and stage begun, whose paper and conditions are proposed again, and the sticker of its control.
    papers, lots
        The paper of each comparison that has one, by its id; the lot last used of each paper.
    judged_by
        The rubrics of the newest comparison by name, as far as they are at hand; without any the one that is set.
    works
        How the things of each open comparison are worked with, by its id.
    rubric
        The rubric chosen for a new comparison; empty where none was.
    bought
        How each format is bought.
    """

    comparisons: Mapping[str, Comparison]
    specimens: Mapping[str, Specimen]
    paints: Mapping[str, str]
    rubrics: Mapping[str, Path]
    code: str
    tester: str
    sheet: Sheet | None
    stage: Stage | None
    letters: str = ""
    control: str = ""
    papers: Mapping[str, str] = field(default_factory=dict)
    lots: Mapping[str, str] = field(default_factory=dict)
    judged_by: tuple[str, ...] = ()
    works: Mapping[str, Worked] = field(default_factory=dict)
    rubric: str = ""
    bought: Mapping[str, BoughtAs] = field(default_factory=lambda: USUALLY_BOUGHT)

    def comparison(self, title: str) -> Comparison | None:
        """Return the open comparison with a title, letter case aside."""
        return self.comparisons.get(title.strip().lower())

    def find(self, text: str, where: str) -> tuple[Specimen, ...]:
        """Return the specimens whose stickers a text names; raises BadInput with `where` as the field."""
        return find(stickers.named_in(text, where, MOST_LINES), self.specimens, where, self.letters)

    def worked(self, title: str, rubrics: str) -> Worked:
        """Return how the things of an open comparison are worked with, or of a new one by its rubrics' names."""
        known = self.comparison(title)
        if known is not None and known.id in self.works:
            return self.works[known.id]
        return of_keys([name.strip() for name in rubrics.split(",")] if rubrics.strip() else self.judged_by)

    @property
    def pouring(self) -> "Pouring | None":
        """How things are made ready in the first of its open comparisons that says so, or a new one would have it."""
        every = (*self.works.values(), of_keys(self.judged_by))
        return next((work.pouring for work in every if work.pouring is not None), None)

    def paper(self, title: str) -> str:
        """Return the paper to begin with: the comparison's own, else that of the last sheet; empty without any."""
        known = self.comparison(title)
        last = self.sheet.paper if self.sheet else ""
        return self.papers.get(known.id, last) if known else last

    def said_of_paper(self, title: str, paper: str) -> str:
        """Return, in words, what a paper means for an open comparison; empty where there is nothing to mind."""
        found = self._on_paper(title, paper)
        return found.words if found else ""

    def is_apart(self, title: str, paper: str) -> bool:
        """Say whether a sheet on a paper would not count towards findings."""
        found = self._on_paper(title, paper)
        return found is not None and found.is_apart

    def _on_paper(self, title: str, paper: str) -> OnPaper | None:
        known = self.comparison(title)
        return on_paper(known, paper, self.papers) if known and paper.strip() else None

    def proposed(self) -> dict[str, str]:
        """Return what the form shows at first, by field."""
        stage = self.stage
        newest = max(self.comparisons.values(), key=lambda row: (row.started_on, row.id), default=None)
        paper = self.paper(newest.title if newest else "")
        known = {
            "comparison": newest.title if newest else None,
            "session": self.code,
            "rubric": self.rubric or ", ".join(self.judged_by),
            "paper": paper,
            "paper_lot": self.lots.get(paper),
            "water": stage.water if stage else None,
            "brush": stage.brush if stage else None,
            "lamp": stage.lamp if stage else None,
            "control": self.control,
        }
        return {name: value for name, value in known.items() if value}

    def refused(self, typed: Mapping[str, str], needed: Collection[str]) -> list[Problem]:
        """Return all that can be seen to be wrong with a filled form at once, in the order of its fields.

        Parameters
        ----------
        typed
            Texts by field.
        needed
            Fields that may not be empty; a new comparison needs its rubric too.
        """
        title = typed.get("comparison", "").strip()
        is_new = title.lower() not in self.comparisons and (title or not self.comparisons)
        found: list[Problem] = []
        for name, text in typed.items():
            try:
                if name in needed and not text.strip():
                    raise bad(name, "", "something typed here")
                if name == "rubric" and is_new:
                    rubric_keys(text, self.rubrics)
                if name in ("specimens", "control") and text.strip():
                    self.find(text, name)
            except BadInput as refused:
                found += refused.problems
        return found

    def named(self, text: str) -> str:
        """Return, in words, which specimens a text names, or what is wrong with it; empty for no text."""
        if not text.strip():
            return ""
        found = self.find(text, "specimens")
        names = dict.fromkeys(f"{self.paints.get(one.paint, '')} {one.format}" for one in found)
        return f"{len(found)}: {', '.join(names)}"


def offer(ledger: "Ledger", rubric: str = "") -> Offer:
    """Return what a ledger, opened for writing, offers for a new sheet; `rubric` is the one chosen for it."""
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.words import bought

    with ledger.reading() as connection:
        bought_as = bought(connection)
    known, sessions = who_is_who(ledger), ledger.rows(Session)
    last = max(sessions, key=lambda session: (session.started_at, session.id), default=None)
    of_last = {"session": last.id} if last else {}
    specimens = {row.id: row for row in ledger.rows(Specimen)}
    return Offer(
        comparisons={row.title.lower(): row for row in ledger.rows(Comparison, closed_on=None)},
        specimens={row.sticker: row for row in specimens.values()},
        paints={row.id: known.name(Paint.TABLE, row.id, row.name) for row in ledger.rows(Paint)},
        rubrics=rubric_files(),
        code=_next_code({session.code for session in sessions}),
        tester=ledger.daybook.tester,
        letters=ledger.daybook.letters,
        sheet=max(ledger.rows(Sheet, **of_last), key=lambda sheet: sheet.number, default=None) if last else None,
        stage=_begun_last(stages.of_session(ledger, last)) if last else None,
        control=_control(ledger, sessions, specimens),
        papers=papers(ledger),
        lots=lots(ledger),
        judged_by=_judged_by(ledger, rubric_files()),
        works={row.id: of_comparison(ledger, row) for row in ledger.rows(Comparison, closed_on=None)},
        rubric=rubric,
        bought=bought_as,
    )


def _judged_by(ledger: "Ledger", files: Mapping[str, Path]) -> tuple[str, ...]:
    """Return the names of what a new comparison is likely judged by: as the newest one, else by what is set."""
    newest = max(ledger.rows(Comparison), key=lambda row: (row.started_on, row.id), default=None)
    kept = ledger.by_id(RubricText, newest.rubrics) if newest else {}
    names = [kept[one].key for one in newest.rubrics if one in kept] if newest else []
    return tuple(name for name in names if name in files) or tuple({load_settings().rubric} & files.keys())


def _begun_last(found: Sequence[Stage]) -> Stage | None:
    """Return the stage begun last; before any was begun, the first to come."""
    begun = [(stage.started_at, place) for place, stage in enumerate(found) if stage.started_at is not None]
    return found[max(begun)[1]] if begun else next(iter(found), None)


def _control(ledger: "Ledger", sessions: Sequence[Session], specimens: Mapping[str, Specimen]) -> str:
    """Return the sticker of the control on the last sheet that had one; empty where none had."""
    begun = {session.id: (session.started_at, session.id) for session in sessions}
    rows = ledger.rows(RunRow, role=Role.CONTROL)
    last = max(rows, key=lambda row: (*begun[row.session], -row.position, row.id), default=None)
    return specimens[last.specimen].sticker if last else ""


def _next_code(taken: set[str]) -> str:
    number = len(taken) + 1
    while f"S{number:02}" in taken:
        number += 1
    return f"S{number:02}"


def rubric_keys(text: str, known: Mapping[str, Path]) -> tuple[str, ...]:
    """Return the rubric keys in a text such as ``watercolour, label``.

    Raises
    ------
    BadInput
        When there is none, or one that is not at hand.
    """
    keys = tuple(key.strip() for key in text.split(",") if key.strip())
    wrong = next((key for key in keys if key not in known), None)
    if wrong is not None or not keys:
        raise bad("rubric", wrong or "", ", ".join(known))
    return keys


def comparison_for(title: str, kept: "Sequence[Rubric]", offered: Offer, *, new_id: str, on: date) -> Comparison:
    """Return the open comparison with this title, or a new one judged by the rubrics in `kept`."""
    if not title:
        raise bad("comparison", "", "the title of an open comparison, or a new one")
    old = offered.comparison(title)
    if old is not None:
        return old
    return Comparison(id=new_id, title=title, question="", started_on=on, rubrics=tuple(each.hash for each in kept))


def stages_of(rubrics: "Sequence[Rubric]", only: Collection[str] = ()) -> list[str]:
    """Return the stages at which anything of these rubrics is judged, `only` of these keys if there are any."""
    criteria = [
        criterion for rubric in rubrics for key, criterion in rubric.criteria.items() if not only or key in only
    ]
    order = stages.in_order(rubrics)
    return [name for name in order if any(c.stage and judged_at(c, name) for c in criteria)] or [order[0]]


def plan(
    typed: Mapping[str, str],
    offered: Offer,
    comparison: Comparison,
    rubrics: "Sequence[Rubric]",
    mark: str = ".",
    *,
    specimens: Sequence[Specimen] | None = None,
    criteria: Collection[str] = (),
) -> SheetPlan:
    """Return the plan a filled form makes.

    Parameters
    ----------
    typed
        Texts by field: session, specimens, paper, paper_lot, water, brush, lamp, temperature, humidity.
    offered, comparison, rubrics
        What the ledger offers; the comparison chosen and its rubrics.
    specimens
        Those chosen in another way than by their stickers.
    criteria
        Keys of what is judged; none for everything.

    Raises
    ------
    BadInput
        Naming the field that is wrong.
    """
    if specimens is None:
        specimens = offered.find(typed.get("specimens", ""), "specimens")
    paper = on_paper(comparison, _needed(typed, "paper"), offered.papers)
    return SheetPlan(
        comparison=paper.comparison,
        code=_needed(typed, "session"),
        tester=offered.tester,
        paper=paper.paper,
        said=paper.words,
        paper_lot=typed.get("paper_lot") or None,
        stages=stages_of(rubrics, criteria),
        due=stages.due(rubrics),
        specimens=specimens,
        conditions=Conditions(
            water=typed.get("water") or None,
            brush=typed.get("brush") or None,
            lamp=typed.get("lamp") or None,
            temperature_c=limited(typed.get("temperature", ""), "temperature", *LIMITS["temperature_c"]),
            humidity_pct=limited(typed.get("humidity", ""), "humidity", *LIMITS["humidity_pct"]),
        ),
    )


def _needed(typed: Mapping[str, str], field: str) -> str:
    if not typed.get(field):
        raise bad(field, "", "a name or description")
    return typed[field]
