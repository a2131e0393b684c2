"""Sentences about what would settle a finding. Part of the wording."""

from collections.abc import Mapping

from qcledger.findings.finding import Finding
from qcledger.findings.settle import Buy, Purchase, purchases
from qcledger.findings.words import how_many


def would_settle(finding: Finding) -> str:
    """Return what would settle it, as one sentence; empty when it is settled."""
    wanted = [_bought(purchase, finding) for purchase in purchases(finding)]
    return f"Would settle it, either way: {'; '.join(wanted)}." if wanted else ""


def _bought(purchase: Purchase, finding: Finding) -> str:
    claim = finding.claim
    paint = claim.lots[0].row.paint_name if claim else ""
    lot = claim.lots[0].row.lot_code if claim else ""
    count = purchase.number
    more_lots = how_many(count, "more lot") if count else "many more lots"
    words: Mapping[Buy, str] = {
        Buy.LOTS_OF_FORMAT: f"{more_lots} of its {finding.format}s",
        Buy.PAINTS: f"{how_many(count, 'more paint')} of {finding.maker_name} as {finding.format}",
        Buy.PEERS: f"the pigments of {how_many(count, 'more paint')} from other makers as {finding.format}",
        Buy.MORE_MAKERS: f"the same from {how_many(count, 'more maker')}",
        Buy.SESSION: f"{how_many(count, 'more session')} with these paints beside other makers' of their pigments",
        Buy.TOGETHER: "a session that tests it side by side with what it is compared with",
        Buy.SELLER: f"the same from {how_many(count, 'other seller')}",
        Buy.CONFIRM: f"{how_many(max(count, 2), 'specimen')} of another lot from another seller, bought to confirm",
        Buy.LOTS_OF_PAINT: f"two specimens each of {how_many(count, 'other lot')} of {paint}",
        Buy.OF_THE_LOT: f"look at, or buy, {how_many(count, 'more specimen')} of lot {lot}",
        Buy.WITH_CODE: f"specimens of {paint} that carry a batch code",
        Buy.ANALYSIS: f"what grade {max(finding.criterion.grades):g} asks for, of {how_many(count, 'specimen')}",
    }
    return words[purchase.what]
