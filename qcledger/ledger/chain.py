"""The hash chain of a daybook: canonical JSON, the hashes, and what a whole chain must satisfy.

An entry's hash is SHA-256 over the canonical JSON list ``["qcledger entry 1", daybook, seq, prev, kind, at,
body_hash]`` in UTF-8. One that replaces entries, because its row was written before, is headed ``"qcledger entry 2"``
and has the list of their hashes at the end. Its ``body_hash`` is SHA-256 over the salt's bytes followed by the body
in UTF-8. So a body can be taken out and the chain still verifies, and the salt keeps a short body from being guessed
from its hash. The first entry of a daybook follows the empty hash.
"""

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

from qcledger.errors import Problem
from qcledger.records import Entry

SALT_BYTES = 16
NO_HASH = ""
"""What the first entry of a daybook follows."""

_SALT = re.compile(rf"[0-9a-f]{{{2 * SALT_BYTES}}}")
_SCHEME = "qcledger entry 1"
_REPLACING = "qcledger entry 2"


# Made once: `json.dumps` would make one anew for each of the many thousand entries of an import.
_CANONICAL = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def canonical(value: Any) -> str:
    """Return `value` as JSON in its one spelling.

    Keys are sorted, there are no blanks, characters stand as they are, numbers as Python prints them.

    Raises
    ------
    ValueError
        For NaN, infinities and whole numbers too long to print.
    """
    return _CANONICAL.encode(value)


def utc_text(at: datetime) -> str:
    """Return an aware time in UTC as text of fixed width, so that texts sort as times do."""
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def utc_time(text: str) -> datetime:
    """Return the time that `utc_text` wrote."""
    return datetime.fromisoformat(text).astimezone(UTC)


def sha256(*parts: bytes) -> str:
    """Return the SHA-256 of the parts in a row, as 64 hexadecimal digits."""
    return hashlib.sha256(b"".join(parts)).hexdigest()


def body_hash(salt: str, body: str) -> str:
    """Return SHA-256 over the salt (32 hexadecimal digits, taken as bytes) and the body in UTF-8."""
    return sha256(bytes.fromhex(salt), body.encode())


def entry_hash(
    daybook: str, seq: int, prev: str, kind: str, at: datetime, body: str, replaces: tuple[str, ...] = ()
) -> str:
    """Return the hash of an entry; `body` is the hash of its body, `replaces` those of the entries it replaces."""
    said: list[Any] = [_SCHEME, daybook, seq, prev, kind, utc_text(at), body]
    if replaces:
        said = [_REPLACING, *said[1:], list(replaces)]
    return sha256(canonical(said).encode())


def seal(
    *,
    daybook: str,
    seq: int,
    prev: str,
    kind: str,
    subject: str,
    at: datetime,
    salt: str,
    body: str,
    replaces: tuple[str, ...] = (),
) -> Entry:
    """Return the entry with its two hashes."""
    inner = body_hash(salt, body)
    return Entry(
        daybook=daybook,
        seq=seq,
        prev=prev,
        kind=kind,
        subject=subject,
        at=at,
        salt=salt,
        body=body,
        body_hash=inner,
        hash=entry_hash(daybook, seq, prev, kind, at, inner, replaces),
        replaces=replaces,
    )


def broken_links(entries: Iterable[Entry]) -> Iterator[Problem]:
    """Yield what is wrong with one daybook's entries, given from its first entry on in the order of their numbers.

    A redacted body is not looked for here: whether it was redacted for a reason, only the whole ledger knows.
    """
    seq, prev, at = 0, NO_HASH, datetime.min.replace(tzinfo=UTC)
    for entry in entries:
        where = f"daybook {entry.daybook} entry {entry.seq}"
        if entry.seq != seq + 1:
            yield Problem(where, f"entry {entry.seq} after entry {seq}", f"entry {seq + 1}, none left out")
        elif entry.prev != prev:
            yield Problem(where, "a hash before it that is not the last entry's", "the hash of the entry before it")
        if entry.at < at:
            yield Problem(where, "a time before that of the last entry", "times that never go back")
        yield from _broken_hashes(entry, where)
        seq, prev, at = entry.seq, entry.hash, entry.at


def _broken_hashes(entry: Entry, where: str) -> Iterator[Problem]:
    if not _fits_hash(entry):
        yield Problem(where, "a hash that does not fit the entry", "an entry unchanged since it was written")
    if (entry.body is None) != (entry.salt is None):
        yield Problem(where, "a body without its salt, or a salt without its body", "both or neither")
    elif entry.body is not None and not _fits_body(entry):
        yield Problem(where, "a body that does not fit its hash", "a body unchanged since it was written")


def _fits_hash(entry: Entry) -> bool:
    of = (entry.daybook, entry.seq, entry.prev, entry.kind, entry.at, entry.body_hash, entry.replaces)
    try:
        return entry_hash(*of) == entry.hash
    except ValueError:  # a text that is not Unicode
        return False


def _fits_body(entry: Entry) -> bool:
    salt, body = entry.salt or "", entry.body or ""
    try:
        return bool(_SALT.fullmatch(salt)) and body_hash(salt, body) == entry.body_hash
    except ValueError:  # as above
        return False
