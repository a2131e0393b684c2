"""The facts of a ledger's labels: each print as transcribed, what our reference says, and the tester's grades."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from math import isnan
from typing import TYPE_CHECKING, Final

from qcledger import rubric
from qcledger.bench.correcting import WORDS
from qcledger.bench.worked import of_ledger
from qcledger.errors import QcledgerError
from qcledger.findings.evidence import Evidence, Unit
from qcledger.findings.labelfact import (
    ClaimBeside,
    LabelFact,
    LabelKey,
    LabelReference,
    LabelStatement,
    QuotedWords,
    grades_of_label,
)
from qcledger.labels.behaviour import claimed
from qcledger.records import LabelVersion, Maker, Paint, Photo, Specimen
from qcledger.rubric import Criterion
from qcledger.settings import reference_files, rubric_files
from qcledger.text import one_line
from qcledger.vocab import LabelFactKind, SaidLevel, Source, formats_in_order

if TYPE_CHECKING:
    from qcledger.labels import LabelRemark
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity
    from qcledger.rubric.reference import Reference

NAME: Final = "name"
"""The field of a label's words that is the paint's own."""
_WHERE: Final = ("source", "format")
"""Fields of a label that say where it was read; they are no words of it."""


@dataclass(frozen=True, slots=True)
class _Print:
    """One print as it is carried: its label, None where that was not transcribed, and the specimens under it."""

    label: LabelVersion | None
    pieces: list[Specimen]


def facts_of_labels(ledger: "Ledger", evidence: Evidence, *, everything: bool = True) -> tuple[LabelFact, ...]:
    """Return what each label says that a specimen carries, a fact for each print and format.

    Parameters
    ----------
    ledger
        An open one.
    evidence
        What was tested; grades of labels are in `Evidence.labels`.
    everything
        Whether every label of the ledger is meant, or those of paints that `evidence` is about.

    Notes
    -----
    By the maker's name, the paint's and the format, the latest print first. Gifts carry labels too, and are left out:
    what a maker gives may be picked.
    """
    from qcledger.ledger.identity import who_is_who
    from qcledger.rubric import reference

    known = who_is_who(ledger)
    paints = None if everything else _paints_of(evidence)
    prints = {key: one for key, one in _prints(ledger, known).items() if paints is None or key.paint in paints}
    behaviour = _behaviour(ledger, evidence)
    sources = _Sources(
        _Names.of(ledger, known),
        reference.load(reference_files()),
        evidence,
        _graded(evidence),
        _photos(ledger),
        behaviour,
        _seen(evidence, behaviour),
        of_ledger(ledger).names_pigments,
    )
    facts = [fact for key, one in prints.items() if (fact := sources.fact(key, one)) is not None]
    order = {format_: place for place, format_ in enumerate(formats_in_order(fact.format for fact in facts))}
    facts.sort(key=lambda fact: (fact.since or date.min, fact.label or ""), reverse=True)
    return tuple(sorted(facts, key=lambda fact: (*_by_name(fact), order[fact.format])))


def _by_name(fact: LabelFact) -> tuple[str, ...]:
    return fact.maker_name.casefold(), fact.maker, fact.paint_name.casefold(), fact.paint


def _paints_of(evidence: Evidence) -> set[str]:
    labels = evidence.labels.rows.column("paint") if evidence.labels else []
    return {*evidence.rows.column("paint"), *labels}


def _prints(ledger: "Ledger", known: "Identity") -> dict[LabelKey, _Print]:
    """Return what specimens carry; one that names no label carries the latest of its paint."""
    from qcledger.bench.known import latest_labels
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    labels, latest = {row.id: row for row in ledger.rows(LabelVersion)}, latest_labels(ledger)
    found: dict[LabelKey, _Print] = {}
    for piece in sorted(ledger.rows(Specimen), key=lambda row: row.sticker):
        if piece.id in out or piece.source is Source.GIFT:
            continue
        label = labels.get(piece.label_version or "") or latest.get(piece.paint)
        key = LabelKey(label.id if label else None, known.one(Paint.TABLE, piece.paint), str(piece.format))
        found.setdefault(key, _Print(label, [])).pieces.append(piece)
    return found


@dataclass(frozen=True, slots=True)
class _Names:
    """What paints and makers are called now, and whose a paint is."""

    known: "Identity"
    paints: Mapping[str, Paint]
    makers: Mapping[str, Maker]

    @classmethod
    def of(cls, ledger: "Ledger", known: "Identity") -> "_Names":
        paints, makers = ({row.id: row for row in ledger.rows(kind)} for kind in (Paint, Maker))
        return cls(known, paints, makers)  # type: ignore[arg-type]

    def paint(self, paint: str) -> str:
        return self.known.name(Paint.TABLE, paint, self.paints[paint].name)

    def maker(self, paint: str) -> tuple[str, str]:
        """Return id and name of a paint's maker."""
        row = self.makers[self.paints[paint].maker]
        return self.known.one(Maker.TABLE, row.id), self.known.name(Maker.TABLE, row.id, row.name)


def _graded(evidence: Evidence) -> dict[str, list[Unit]]:
    """Return the grades of labels by specimen."""
    found: dict[str, list[Unit]] = {}
    for unit in evidence.labels.units if evidence.labels else ():
        found.setdefault(unit.row.specimen, []).append(unit)
    return found


def _photos(ledger: "Ledger") -> dict[str, list[str]]:
    """Return ids of photos by what they are filed with: a label, an observation."""
    found: dict[str, list[str]] = {}
    for photo in ledger.rows(Photo):
        for row in filter(None, (photo.label_version, photo.observation)):
            found.setdefault(row, []).append(photo.id)
    return found


@dataclass(frozen=True, slots=True)
class _Sources:
    """Everything that facts are made of."""

    names: _Names
    reference: "Reference"
    evidence: Evidence
    graded: Mapping[str, list[Unit]]
    photos: Mapping[str, list[str]]
    behaviour: Mapping[str, Criterion]
    seen: Mapping[tuple[str, str], float]
    names_pigments: bool
    """Whether labels of this ledger's things carry Colour Index names: else none is missed."""

    def fact(self, key: LabelKey, one: _Print) -> LabelFact | None:
        """Return what a print says; None where it was neither transcribed nor graded."""
        units = [unit for piece in one.pieces for unit in self.graded.get(piece.id, ())]
        if one.label is None and not units:
            return None
        maker, maker_name = self.names.maker(key.paint)
        name = self.names.paint(key.paint)
        label, criteria = one.label, self.evidence.labels.criteria if self.evidence.labels else {}
        filed = [label.id if label else "", *(unit.row.observation for unit in units)]
        return LabelFact(
            label=key.label,
            maker=maker,
            maker_name=maker_name,
            paint=key.paint,
            paint_name=name,
            format=key.format,
            since=label.seen_on if label else None,
            read_on=one_line(label.source or "") if label else "",
            stickers=tuple(piece.sticker for piece in one.pieces),
            quotes=tuple(_quotes(label)) if label else (),
            statements=_statements(label, name, self.reference) if label and self._is_checked(label) else (),
            grades=grades_of_label(units, criteria),
            claims=tuple(self._claims(label, one.pieces)) if label else (),
            photos=tuple(dict.fromkeys(photo for row in filed for photo in self.photos.get(row, ()))),
        )

    def _is_checked(self, label: LabelVersion) -> bool:
        return self.names_pigments or bool(label.index_names)

    def _claims(self, label: LabelVersion, pieces: Sequence[Specimen]) -> Iterator[ClaimBeside]:
        """Yield each claim of how the paint behaves beside what was seen of the specimens that carry it."""
        names = self.reference.names
        denials = names.denials | names.free_before
        known = {key: one.label_claims for key, one in self.behaviour.items()}
        for claim in label.claims:
            for key, said in claimed(claim, known, denials):
                seen = [grade for piece in pieces if (grade := self.seen.get((key, piece.id))) is not None]
                if seen:
                    unlike = sum(not said.says(grade) for grade in seen)
                    yield ClaimBeside(one_line(claim), self.behaviour[key], len(seen), unlike, (min(seen), max(seen)))


def _behaviour(ledger: "Ledger", evidence: Evidence) -> dict[str, Criterion]:
    """Return the criteria of what was tested that a label may claim something of, with the words known by now."""
    from qcledger.records import RubricText

    held, files = {row.key for row in ledger.rows(RubricText)}, rubric_files()
    now: dict[str, Criterion] = {}
    for path in (files[key] for key in sorted(held & files.keys())):
        with suppress(QcledgerError):  # a tester's own file that is being written
            now |= rubric.load(path).criteria
    words = {
        key: one.label_claims or (now[key].label_claims if key in now else ())
        for key, one in evidence.criteria.items()
    }
    return {key: replace(one, label_claims=words[key]) for key, one in evidence.criteria.items() if words[key]}


def _seen(evidence: Evidence, behaviour: Collection[str]) -> dict[tuple[str, str], float]:
    """Return the grade of each specimen on some criteria, by criterion and specimen."""
    rows = evidence.rows.together("criterion", "specimen")
    told = zip(rows, evidence.grades.tolist(), strict=True)
    return {place: grade for place, grade in told if place[0] in behaviour and not isnan(grade)}


def _quotes(label: LabelVersion) -> Iterator[QuotedWords]:
    for field in WORDS:
        if field not in _WHERE and (printed := _printed(label, field)):
            yield QuotedWords(field, WORDS[field], printed)


def _printed(label: LabelVersion, field: str) -> str:
    value = getattr(label, field)
    return one_line(value if isinstance(value, str) else ", ".join(value))


def _statements(label: LabelVersion, name: str, ours: "Reference") -> tuple[LabelStatement, ...]:
    """Return what is said of a label, what goes farthest first; what was not found on it comes last."""
    from qcledger.labels import about
    from qcledger.labels.checks import no_hazard, not_named

    said = [_statement(one, label, name) for one in about(label, name, ours)]
    said.sort(key=lambda one: -one.level)
    lacking = [
        LabelStatement(_NOWHERE, SaidLevel.REMARK, f"{one}: none found on this label") for one in not_named(label)
    ]
    hazard = [
        LabelStatement(_quoted(label, "warnings", name), SaidLevel.REMARK, words, kind=LabelFactKind.SAFETY)
        for words in no_hazard(label, ours)
    ]
    return (*said, *lacking, *hazard)


_NOWHERE: Final = QuotedWords("", "", "")


def _statement(one: "LabelRemark", label: LabelVersion, name: str) -> LabelStatement:
    references = tuple(LabelReference(f"{ours.of}, {ours.field}: {ours.value}", ours.source) for ours in one.ours)
    return LabelStatement(_quoted(label, one.field, name), one.level, one.statement, references, one.held_back)


def _quoted(label: LabelVersion, field: str, name: str) -> QuotedWords:
    return QuotedWords(field, WORDS.get(field, field), name if field == NAME else _printed(label, field))
