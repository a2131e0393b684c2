"""Sentences about what would settle a finding, and what was not looked at yet. Part of the wording."""

from collections.abc import Mapping, Sequence

from qcledger.findings.evidence import NEAR
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.picked import Picked, picked
from qcledger.findings.scope import Scope
from qcledger.findings.settle import Buy, Purchase, purchases
from qcledger.findings.words import day, how_many, listed, lower_first, plural
from qcledger.rubric.model import PIGMENTS
from qcledger.thing import worded
from qcledger.vocab import Extent, formats_in_order

_NAMED = 6
"""Most stickers named in a sentence."""


def would_settle(finding: Finding) -> str:
    """Return what would settle it, to stand below words that say so; empty when it is settled."""
    wanted = "; ".join(_bought(purchase, finding) for purchase in purchases(finding))
    return f"{wanted[0].upper()}{wanted[1:]}." if wanted else ""


def _bought(purchase: Purchase, finding: Finding) -> str:
    claim = finding.claim
    paint = claim.lots[0].row.paint_name if claim else ""
    lot = claim.lots[0].row.lot_code if claim else ""
    count, same = purchase.number, finding.criterion.peers.same
    more_lots = how_many(count, "more lot") if count else "many more lots"
    these = worded("these paints")
    words: Mapping[Buy, str] = {
        Buy.LOTS_OF_FORMAT: f"{more_lots} of its {finding.format}s",
        Buy.PAINTS: f"{how_many(count, 'more paint')} of {finding.maker_name} as {finding.format}",
        Buy.PEERS: _peers(finding, count),
        Buy.MORE_MAKERS: f"{_shared(claim) if claim else ''} from {how_many(count, 'more maker')}",
        Buy.SESSION: f"{how_many(count, 'more session')} with {these} beside other makers' of their {same}",
        Buy.TOGETHER: "a session that tests it side by side with what it is compared with",
        Buy.UNPACKED_PEERS: f"{finding.format}s of other makers, unpacked within {NEAR.days} days of its faulty ones",
        Buy.UNPACKED_TOGETHER: f"specimens it is compared with, unpacked within {NEAR.days} days of it",
        Buy.SELLER: f"{finding.format}s of {finding.maker_name} from {how_many(count, 'other seller')}",
        Buy.CONFIRM: f"{how_many(max(count, 2), 'specimen')} of another lot from another seller, bought to confirm",
        Buy.CONFIRM_PAINT: f"a new lot of {paint} from another seller, bought to confirm",
        Buy.CONFIRM_LOT: f"a further specimen of lot {lot}, from any seller, bought to confirm",
        Buy.LOTS_OF_PAINT: f"two specimens each of {how_many(count, 'other lot')} of {paint}",
        Buy.OF_THE_LOT: _of_the_lot(finding, lot, count),
        Buy.WITH_CODE: f"specimens of {paint} that carry a batch code",
        Buy.ANALYSIS: _worst(finding, count),
    }
    return words[purchase.what]


def _peers(finding: Finding, count: int) -> str:
    """Return which paints of other makers are wanted: of the same group or, where none is said, of the format."""
    by, more = finding.criterion.peers, how_many(count, "more paint")
    alike = any(lot.group for lot in finding.lots) or not by.silent
    told = f"the {by.same} of {more} from other makers" if alike else f"{more} from other makers"
    return f"{told} as {finding.format}"


def _worst(finding: Finding, count: int) -> str:
    """Return what the worst grade asks for, in the words of the rubric where it has some."""
    grade = max(finding.criterion.grades, default=0.0)
    anchor = lower_first(finding.criterion.anchors.get(grade, "")).rstrip(".")
    return f"of {how_many(count, 'specimen')}, what grade {grade:g} asks for{f': {anchor}' if anchor else ''}"


def _shared(claim: Claim) -> str:
    """Return what a shared pigment or format is about, as it is to be bought: ``half pans and tubes with PR101``."""
    formats = listed([f"{one}s" for one in formats_in_order(lot.row.format for lot in claim.lots)])
    named = " and ".join(claim.subject)
    of = named if claim.group == PIGMENTS else claim.group.named([named])
    return f"{formats} with {of}" if claim.extent is Extent.PIGMENT else formats


def _of_the_lot(finding: Finding, lot: str | None, count: int) -> str:
    """Return that more of a lot is wanted: first what is on the shelf and was not looked at, then what to buy."""
    if finding.stock is None:
        return f"look at, or buy, {how_many(count, 'more specimen')} of lot {lot}"
    own = finding.claim.lots[0].row.lot if finding.claim else None
    here = [one.sticker for one in finding.unseen if own is not None and one.lot == own and one.to_hand]
    if not here:
        return f"{how_many(count, 'more specimen')} of lot {lot}"
    rest = f", then buy {how_many(count - len(here), 'more specimen')} of it" if len(here) < count else ""
    return f"look at {_named(here)} of lot {lot}, to hand and not looked at for this yet{rest}"


def _named(stickers: Sequence[str]) -> str:
    """Return stickers in a row, as many as are read; the others are counted."""
    if len(stickers) <= _NAMED:
        return listed(stickers)
    return listed([*stickers[:_NAMED], f"{len(stickers) - _NAMED} more"])


def passed_over(finding: Finding, scope: Scope) -> str:
    """Return how many pieces of the sentence's parcels nobody looked at for it; empty where that is none."""
    parcels = {unit.row.parcel for lot in scope.lots for unit in lot.units}
    partly = [one for one in picked(finding) if one.row.parcel in parcels]
    if not partly:
        return ""
    count = sum(len(one.more) for one in partly)
    more, where = how_many(count, f"more {finding.format}"), plural(len(partly), "parcel")
    return f"{more[0].upper()}{more[1:]} of the same {where} {_verb(count)} not looked at for this."


def picked_in(finding: Finding, one: Picked) -> str:
    """Return what was looked at of one parcel, and what that may be of the whole of it."""
    count, seen = len(one.more), len(one.units)
    said = f"{count} more {plural(count, str(finding.format))} of this parcel {_verb(count)} not looked at for it"
    may_be = f": {one.faulty} of {seen} may be {one.faulty} of {seen + count}" if one.faulty else ""
    return f"{one.row.seller}, {day(one.row.bought_on)}: {said}{may_be}."


LOOK = "Grade them for it too, 0 where there is nothing to see: only then do these numbers read as a rate."
"""How a parcel that was looked at in part is settled."""


def to_look_at(finding: Finding, one: Picked) -> str:
    """Return in a line what is to be looked at of a parcel."""
    seen, count = len(one.units), len(one.more)
    whose = f"{finding.maker_name}, {finding.format}s bought {day(one.row.bought_on)}"
    told = f"{seen} of {seen + count} looked at; grade the other {count}, 0 where there is nothing"
    return f"{whose}, {lower_first(finding.criterion.title)}: {told}"


def _verb(count: int) -> str:
    return "was" if count == 1 else "were"
