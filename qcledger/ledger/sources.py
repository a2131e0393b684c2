"""What a ledger takes from outside itself: the time, new ids and salts. Injected, a ledger is reproducible."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import uuid6

from qcledger.ledger.chain import SALT_BYTES


def new_id() -> str:
    """Return an id that sorts by the time it was made and that no other ledger makes (UUID version 7, RFC 9562)."""
    return str(uuid6.uuid7())


def _now() -> datetime:
    return datetime.now(UTC)


def _salt() -> str:
    return secrets.token_hex(SALT_BYTES)


@dataclass(frozen=True, slots=True)
class Sources:
    """Where a ledger gets the time (aware), ids (1 to 64 characters) and salts (32 hexadecimal digits) from."""

    now: Callable[[], datetime] = _now
    new_id: Callable[[], str] = new_id
    salt: Callable[[], str] = _salt


REAL = Sources()
"""The clock and the random numbers of this machine."""
