"""Paints beside other makers' paints of the same pigments, as text, CSV and JSON; for the tester alone."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from weakref import WeakKeyDictionary

from qcledger.findings.behaves import BehaviourVerdict, BesidePeers, beside_peers, looks
from qcledger.findings.evidence import gather
from qcledger.findings.wording_of_behaviour import (
    FOR_YOU,
    NEAR_CAUTION,
    WOULD_TELL,
    bits_words,
    differs_words,
    near_words,
    pair_words,
    pigments_words,
    trait_words,
    verdict_words,
)
from qcledger.findings.words import how_many
from qcledger.ledger.progress import Progress, untold
from qcledger.report.criteria import criteria_of
from qcledger.report.layout import columns, paragraph
from qcledger.report.rows import Row
from qcledger.report.to_csv import table_csv
from qcledger.rubric import Criterion, reference
from qcledger.settings import reference_files
from qcledger.text import harmless_in, one_line
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric.pigments import Pigments

FORM: Final = 1
"""Raised when a name of the JSON changes or goes; new names may come without it."""
_WIDTHS: Final = (28, -4, 26, -6)


@dataclass(frozen=True, slots=True)
class BehaviourOfPaints:
    """Every paint of a ledger beside its peers, the most unlike first, with the names it goes by.

    Parameters
    ----------
    paints
        What was found, each paint and what its label declares.
    names
        By a paint's id, its maker's name and its own.
    criteria
        By key.
    pigments
        The reference.
    """

    paints: Sequence[BesidePeers]
    names: Mapping[str, tuple[str, str]]
    criteria: Mapping[str, Criterion]
    pigments: "Pigments"

    def only(self, maker: str | None = None, paint: str | None = None) -> "BehaviourOfPaints":
        """Return the same of one maker or paint, by its id; the level stays that of every paint looked at."""
        kept = [one for one in self.paints if maker in (None, one.maker) and paint in (None, one.paint)]
        return BehaviourOfPaints(kept, self.names, self.criteria, self.pigments)


_Heads = Mapping[str, tuple[int, str]]
_KEPT: "WeakKeyDictionary[Ledger, tuple[_Heads, BehaviourOfPaints]]" = WeakKeyDictionary()


def of_ledger(ledger: "Ledger", progress: Progress = untold) -> BehaviourOfPaints:
    """Return every paint of a ledger that declares pigments beside its peers; blind sessions are left out.

    It is kept for as long as the ledger is open and its closing hashes stay the same. `progress` is told which paint
    is at work; what it raises ends the work, and nothing is kept.
    """
    heads = ledger.closing_hashes()
    if ledger not in _KEPT or _KEPT[ledger][0] != heads:
        _KEPT[ledger] = heads, _worked_out(ledger, progress)
    return _KEPT[ledger][1]


def _worked_out(ledger: "Ledger", progress: Progress) -> BehaviourOfPaints:
    evidence = gather(ledger.tested_rows(), criteria_of(ledger))
    names = {
        paint: (one_line(maker), one_line(name))
        for paint, maker, name in evidence.rows.together("paint", "maker_name", "paint_name")
    }
    found = beside_peers(looks(evidence), evidence.criteria, progress)
    return BehaviourOfPaints(found, names, evidence.criteria, reference.load(reference_files()).pigments)


def of_specimen(ledger: "Ledger", specimen: str, progress: Progress = untold) -> list[str]:
    """Return what is found of a specimen's paint as paragraphs, for a window; `progress` is that of `of_ledger`."""
    from qcledger.ledger.identity import who_is_who
    from qcledger.records import Paint, Specimen

    piece = ledger.get(Specimen, specimen)
    if piece is None:
        return behaviour_words(of_ledger(ledger, progress).only(paint=""))
    return behaviour_words(of_ledger(ledger, progress).only(paint=who_is_who(ledger).one(Paint.TABLE, piece.paint)))


def behaviour_text(told: BehaviourOfPaints, *, full: bool = False, nearest: bool = False) -> str:
    """Return what is found as text.

    Parameters
    ----------
    told
        What is told of.
    full
        Whether each paint is told in full, or only those that behave unlike their peers.
    nearest
        Whether the nearest other pigments are told of those that behave unlike their peers.
    """
    shown = [one for one in told.paints if full or one.verdict is BehaviourVerdict.UNLIKE]
    lines = [*paragraph(worded(FOR_YOU)), "", *paragraph(_counted(told.paints))]
    for one in shown:
        lines += ["", *_told(one, told, nearest=nearest)]
    if any(one.verdict is BehaviourVerdict.UNLIKE for one in shown):
        lines += ["", *paragraph(worded(WOULD_TELL))]
    return "\n".join(lines) + "\n"


def _counted(paints: Sequence[BesidePeers]) -> str:
    unlike, no_sign, none = (sum(one.verdict is what for one in paints) for what in BehaviourVerdict)
    if not paints:
        return worded("No paint was graded on a trait beside peers yet.")
    return (
        f"{how_many(unlike, 'paint').capitalize()} {'behaves' if unlike == 1 else 'behave'} unlike peers; no sign of "
        f"it in {no_sign}; no peer baseline for {none}."
    )


def _told(one: BesidePeers, told: BehaviourOfPaints, *, nearest: bool) -> Iterator[str]:
    """Yield the lines about one paint."""
    yield from paragraph(f"{_name(one, told)}: {verdict_words(one, told.criteria)}.", rest="  ")
    if one.verdict is BehaviourVerdict.NO_BASELINE:
        return
    yield from paragraph(f"{how_many(one.lots, 'lot').capitalize()}; {bits_words(one)}.", "  ")
    yield from columns((trait_words(trait, told.criteria) for trait in one.traits), _WIDTHS, "    ")
    for words in _beneath(one, told, nearest=nearest):
        yield from paragraph(words, "  ")


def _beneath(one: BesidePeers, told: BehaviourOfPaints, *, nearest: bool) -> Iterator[str]:
    """Yield what is told below the traits of a paint."""
    if differs := differs_words(one, told.criteria):
        yield differs
    yield from pair_words(one.declared, told.pigments)
    if nearest and one.verdict is BehaviourVerdict.UNLIKE:
        yield f"{near_words(one)} {NEAR_CAUTION}"


def _name(one: BesidePeers, told: BehaviourOfPaints) -> str:
    maker, paint = told.names[one.paint]
    return f"{maker}, {paint}"


def behaviour_words(told: BehaviourOfPaints, *, nearest: bool = False) -> list[str]:
    """Return what is found of a few paints as paragraphs, for a window."""
    if not told.paints:
        return [
            worded("Nothing of this paint that tells how it behaves was graded yet")
            + ", or its label declares no pigment.",
            worded(FOR_YOU),
        ]
    words = [worded(FOR_YOU)]
    for one in told.paints:
        words.append(f"{_name(one, told)}: {verdict_words(one, told.criteria)}.")
        if one.verdict is not BehaviourVerdict.NO_BASELINE:
            words.append(f"{how_many(one.lots, 'lot').capitalize()}; {bits_words(one)}.")
            traits = (trait_words(trait, told.criteria) for trait in one.traits)
            words += [f"{title}: {ours}; {peers}; {bits} bits" for title, ours, peers, bits in traits]
            words += _beneath(one, told, nearest=nearest)
        if one.verdict is BehaviourVerdict.UNLIKE:
            words.append(worded(WOULD_TELL))
    return words


def behaviour_csv(told: BehaviourOfPaints, *, nearest: bool = False) -> str:
    """Return a line a paint and trait as CSV; a paint without a baseline has one line without a trait."""
    return table_csv(row for one in told.paints for row in _rows(one, told, nearest=nearest))


def _rows(one: BesidePeers, told: BehaviourOfPaints, *, nearest: bool) -> Iterator[Row]:
    whole = _row(one, told, nearest=nearest)
    for trait in one.traits or (None,):
        yield {
            **whole,
            "criterion": trait and trait.criterion,
            "grade": trait and trait.found.ours,
            "peers_grade": trait and trait.found.peers,
            "peer_makers": trait and trait.found.makers,
            "trait_bits": trait and trait.counted,
        }


def _row(one: BesidePeers, told: BehaviourOfPaints, *, nearest: bool) -> Row:
    maker, paint = told.names[one.paint]
    near = {
        "nearest": pigments_words(one.near[0][0]) if one.near and one.verdict is BehaviourVerdict.UNLIKE else None
    }
    return {
        "maker": maker,
        "paint": paint,
        "pigments": " ".join(one.declared),
        "verdict": str(one.verdict),
        "lots": one.lots,
        "peers": one.peers,
        "bits": one.bits if one.traits else None,
        "level": one.level,
        **(near if nearest else {}),
    }


def behaviour_json(told: BehaviourOfPaints, *, nearest: bool = False) -> str:
    """Return ``{"form": 1, "for_the_tester_alone": ..., "paints": [...]}``, indented, ended by a line feed."""
    paints = [
        {
            **_row(one, told, nearest=nearest),
            "traits": [
                {"criterion": trait.criterion, "grade": trait.found.ours, "peers_grade": trait.found.peers,
                 "peer_makers": trait.found.makers, "trait_bits": trait.counted}
                for trait in one.traits
            ],
            "differs_within_the_pigment": list(one.differs_within),
        }
        for one in told.paints
    ]  # fmt: skip
    told_as = {"form": FORM, "for_the_tester_alone": FOR_YOU, "paints": paints}
    return json.dumps(harmless_in(told_as), ensure_ascii=False, indent=2) + "\n"
