"""What is said, to the tester alone, of a paint beside other makers' paints that declare the same pigments."""

from collections.abc import Iterator, Mapping
from typing import Final

from qcledger.findings.behaves import DRIVES, PEERS, BehaviourVerdict, BesidePeers, Declared, TraitBeside
from qcledger.findings.words import how_many, listed, lower_first
from qcledger.rubric import Criterion
from qcledger.rubric.colour_index import base_name
from qcledger.rubric.pigments import Pigment, Pigments, TellingPair
from qcledger.thing import worded
from qcledger.vocab import Amount, Cover, Rewet

FOR_YOU: Final = (
    "A reason to look further, for you alone: it says how a paint behaves, and not what is in it. A finer or coarser "
    "grind, another medium or a mix-up of specimens can do the same. It stands in nothing that goes out."
)
WOULD_TELL: Final = (
    "What would tell: an outside analysis of the paint; before that, another lot of it and the peers' paints once "
    "more on one blind sheet. What its label says is looked at by itself, as a fact of the label."
)
NEAR_CAUTION: Final = (
    "A hint what to have looked for, and no more: pigments that behave alike are alike here, mixtures are not "
    "thought of, and only what is on file can be near. Say it to nobody; an outside analysis tells."
)
ALONE: Final = "too few other pigments on file"
STEPS: Final = 2
"""Words of the reference by which two pigments must differ in a trait for the trait to tell them apart."""
_SCALES: Final[Mapping[str, tuple[str, ...]]] = {
    "grain": tuple(map(str, Amount)), "cover": tuple(map(str, Cover)), "stain": tuple(map(str, Amount)),
    "rewet": tuple(map(str, Rewet)),
}  # fmt: skip


def pigments_words(names: Declared) -> str:
    """Return what is declared: ``PB15 with PW6``."""
    return listed(names, "with") if len(names) < 3 else listed(names)


def verdict_words(one: BesidePeers, criteria: Mapping[str, Criterion]) -> str:
    """Return what is said of a paint, without its name."""
    peers = f"{how_many(one.peers, 'other maker')}"
    if one.verdict is BehaviourVerdict.NO_BASELINE:
        why = ALONE if one.peers >= PEERS else f"{peers}, it takes {PEERS}"
        return f"{BehaviourVerdict.NO_BASELINE} for {pigments_words(one.declared)}: {why}"
    pigment = f"{pigments_words(one.declared)} at {peers}"
    if one.verdict is BehaviourVerdict.UNLIKE:
        return f"{BehaviourVerdict.UNLIKE} {pigment}: {listed(list(driving(one, criteria)))}"
    return f"no sign that it behaves unlike {pigment}"


def driving(one: BesidePeers, criteria: Mapping[str, Criterion]) -> Iterator[str]:
    """Yield what drives it, the most telling first: ``more staining``."""
    for trait in one.traits:
        if trait.counted >= DRIVES and trait.found.ours != trait.found.peers:
            title = criteria[trait.criterion].title
            yield f"{'more' if trait.found.ours > trait.found.peers else 'less'} {lower_first(title)}"


def bits_words(one: BesidePeers) -> str:
    """Return the evidence and the level, in bits."""
    return f"{round(one.bits, 1) + 0.0:.1f} bits; said from {one.level:.1f} bits on, among so many {worded('paints')}"


def trait_words(trait: TraitBeside, criteria: Mapping[str, Criterion]) -> tuple[str, str, str, str]:
    """Return a trait's title, the middle grades of the paint and of its peers, and its bits."""
    found = trait.found
    makers = f"peers {found.peers:g}, {how_many(found.makers, 'maker')}"
    return criteria[trait.criterion].title, f"{found.ours:g}", makers, f"{round(trait.counted, 1) + 0.0:+.1f}"


def differs_words(one: BesidePeers, criteria: Mapping[str, Criterion]) -> str:
    """Return which traits were left out because grades of the pigment differ in them; empty without any."""
    if not one.differs_within:
        return ""
    titles = listed([lower_first(criteria[key].title) for key in one.differs_within])
    return (
        f"Left out, for one maker's own {worded('paints')} of {pigments_words(one.declared)} differ in it: {titles}."
    )


def near_words(one: BesidePeers) -> str:
    """Return the nearest other pigments on file, those within 3 bits of the nearest."""
    if not one.near:
        return "No other pigment on file was graded on what drives it."
    best = one.near[0][1]
    some = [pigments_words(names) for names, bits in one.near if bits > 0 and bits >= best - 3]
    return f"Nearest among the other pigments on file: {listed(some)}." if some else "No other pigment is nearer."


def pair_words(declared: Declared, pigments: Pigments) -> Iterator[str]:
    """Yield what the reference says of pigments confused with the declared ones, and whether tests here tell."""
    for name in declared:
        pigment = pigments.find(name)
        for pair in pigment.pairs if pigment else ():
            rest = [other for other in pair.pigments if base_name(other) != name]
            if pair.pigments[0] == name or len(pair.pigments) == 2:
                hardly = "" if is_told(pair, pigments) else " Tests on the sheet can hardly tell them apart."
                yield f"{name} and {listed(rest, 'with')}: {pair.text} [{pair.source}]{hardly}"


def is_told(pair: TellingPair, pigments: Pigments) -> bool:
    """Say whether the reference has the first pigment of a pair and the rest lie apart in two traits of the sheet.

    A trait of a mixture may be that of any of its pigments, so all of them must lie apart from the first.
    """
    first, *rest = (pigments[name] for name in pair.pigments)
    apart = sum(all(_apart(first, other, trait) for other in rest if _tints(other, rest)) for trait in _SCALES)
    return apart >= 2


def _tints(one: Pigment, of: list[Pigment]) -> bool:
    """Say whether a pigment of a mixture shows: a white lets it down, and shows only by itself."""
    return len(of) == 1 or not one.name.startswith("PW")


def _apart(one: Pigment, other: Pigment, trait: str) -> bool:
    places = [[_SCALES[trait].index(str(word)) for word in getattr(pigment, trait)] for pigment in (one, other)]
    return all(places) and min(abs(mine - theirs) for mine in places[0] for theirs in places[1]) >= STEPS
