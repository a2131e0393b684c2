"""One line of a hash chain."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of a daybook's hash chain; `body` and `salt` are None once redacted.

    `body` is canonical JSON ``{"record": {...}, "reason": "..."}``; `body_hash` is SHA-256(salt, body) and `hash`
    covers daybook, number, previous hash, kind, time, `body_hash` and, where there are any, the hashes of the entries
    that this one `replaces`.
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
    replaces: tuple[str, ...] = ()
