"""One line of a hash chain."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of a daybook's hash chain; `body` and `salt` are None once redacted.

    `body` is canonical JSON ``{"record": {...}, "reason": "..."}``; `body_hash` is SHA-256(salt, body) and `hash`
    covers daybook, number, previous hash, kind, time and `body_hash`.
    """

    daybook: str
    seq: int
    prev: str
    kind: str
    subject: str
    at: datetime
    salt: str | None
    body: str | None
    body_hash: str
    hash: str
