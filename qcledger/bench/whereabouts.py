"""In which time zone a tester works: asked once where it is not recorded, and when the machine has moved."""

from datetime import datetime
from typing import TYPE_CHECKING

from qcledger.clock import kept_zone, machine_zone, same_clock, zone_named

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


def question(ledger: "Ledger", now: datetime) -> str:
    """Return what is to be asked about the tester's time zone, in words; empty where nothing is.

    The zone of a daybook that none was recorded of is asked for, and that of a machine whose clock shows another time
    than the last one recorded, until it was answered while the machine was there.
    """
    from qcledger.ledger.zones import ANSWERED, remembered

    held, here = ledger.zones, machine_zone()
    if not held:
        return "" if ledger.zone is not None else "your time zone is not recorded; say where you work"
    there, own = held[-1].zone, kept_zone(here) if here else None
    if there is None or own is None or same_clock(there, own, now) or remembered(ledger.where, ANSWERED) == here:
        return ""
    return f"this machine is in {here}, your daybook in {held[-1].row.name}; say where you work"


def unsaid(ledger: "Ledger", now: datetime) -> str:
    """Return the question of `question` for a command to say; empty where one said it while the machine was there."""
    from qcledger.ledger.zones import SAID, remembered

    is_said = remembered(ledger.where, SAID) == (machine_zone() or "")
    return "" if is_said else question(ledger, now)


def said(where: str) -> None:
    """Remember that a command has said the question about the ledger `where`, so that it is said once."""
    from qcledger.ledger.zones import SAID, remember

    remember(where, SAID, machine_zone())


def proposed(ledger: "Ledger") -> str:
    """Return the zone that is proposed as an answer: the machine's, else the last one recorded; empty for neither."""
    held = ledger.zones
    return machine_zone() or (held[-1].row.name if held else "")


def answer(ledger: "Ledger", name: str, *, corrects: bool = False) -> str:
    """Record where the tester works from now on, and return the zone's name.

    Parameters
    ----------
    ledger
        Open for writing.
    name
        An IANA name.
    corrects
        Whether the zone recorded last was wrong, so that this one holds in its place.

    Raises
    ------
    BadInput
        When there is no such time zone.
    """
    from qcledger.ledger.zones import ANSWERED, remember

    zone = zone_named(name.strip()).key
    ledger.set_zone(zone, reason="the last one was wrong" if corrects else "", corrects=corrects)
    remember(ledger.where, ANSWERED, machine_zone())
    return zone
