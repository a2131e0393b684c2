"""How the body of an entry is kept in its table: the same text, in some two fifths of the room.

Ids and hashes are most of a body, and as digits they take twice the room of what they say. So each id (a UUID in its
usual spelling) and each SHA-256 becomes its bytes behind a mark that stands in no UTF-8 text. What is left, the names
of fields above all, is nearly the same in every body: it is deflated (RFC 1951) with a dictionary of bodies as most
ledgers hold them. Nothing of this is in any hash: a body's hash covers the text that comes out again.
"""

import re
import zlib
from typing import Final

LARGEST = 64_000_000
"""Bytes of the largest text that is unpacked; no body comes near it, and a few bytes can say that many."""
NO_BODY = "{}"
"""What is read where nothing was packed that this program writes: the body of no entry, and of no hash."""

_ID, _DIGEST = b"\xff", b"\xfe"
_SPELLED = re.compile(rb"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|[0-9a-f]{64}")
_MARKED = re.compile(rb"\xff(.{16})|\xfe(.{32})", re.DOTALL)

# Never edit it: what was packed with other words cannot be read. Those that are met most often stand last.
_WORDS: Final = (
    b'"entry":"\xfe","photo":"\xfe","question":"\xff","sha256":"\xfe","plan":"","seed":"seller":"'
    b'{"reason":"","record":{"brush":"","due_at":"","ended_at":"","humidity_pct":0.0,"id":"\xff","lamp":"","lux":0.0,'
    b'"name":"","session":"\xff","started_at":"","temperature_c":0.0,"tester":"","water":""}}'
    b'{"reason":"","record":{"caption":"","file_name":".jpg","height":480,"id":"\xff","kind":"jpg","observation":"\xff",'
    b'"sha256":"\xfe","specimen":"\xff","taken_at":"","width":640}}'
    b'{"reason":"","record":{"by":"","how":"","id":"\xff","kind":"void","on":"202-","reason":"","subject":"\xff",'
    b'"subject_table":"finding | "}}{"reason":"","record":{"id":"\xff","name":"","note":"","seller":""}}'
    b'{"reason":"","record":{"bought_on":"2026-","currency":"EUR","id":"\xff","note":"","received_on":"2026-","seller":'
    b'"","shipping_minor":0,"tax_included":true}}{"reason":"","record":{"id":"\xff","maker":"\xff","name":"","note":""}}'
    b'{"reason":"","record":{"cas_numbers":[],"chemical_names":[],"claims":[],"constitution_numbers":[],"facts":[],'
    b'"id":"\xff","index_names":["P"],"paint":"\xff","printed":"","seen_on":"202-","warnings":""}}'
    b'{"reason":"","record":{"id":"\xff","kind":"poured","note":"","on":"202-","specimen":"\xff"}}'
    b'{"reason":"","record":{"code":"","id":"\xff","position":1,"preparation":"\xff","role":"specimen","session":"\xff",'
    b'"sheet":"\xff","specimen":"\xff"}}'
    b'{"reason":"","record":{"code":"L","format":"half pan","id":"\xff","note":"","paint":"\xff"}}'
    b'{"reason":"","record":{"advised":false,"format":"tube","id":"\xff","label_version":"\xff","lot":"\xff",'
    b'"nominal_ml":"","note":"","opened_on":"202-","paint":"\xff","parcel":"\xff","price_minor":1,"source":"retail",'
    b'"state":"opened","sticker":"","why":"planned"}}'
    b'{"reason":"","record":{"at":"2026-01-01T10:00:00.000000Z","id":"\xff","note":"","occasion":"unpacking",'
    b'"run_row":"\xff","session":"\xff","specimen":"\xff"}}'
    b'{"reason":"","record":{"at":"2026-01-01T10:00:00.000000Z","id":"\xff","note":"","occasion":"older notes",'
    b'"specimen":"\xff"}}'
    b'{"reason":"","record":{"at":"2026-01-01T10:00:00.000000Z","censored":"exact","criterion":"","grade":0.0,'
    b'"id":"\xff","note":"","reading":0.0,"reason":"","rubric":"\xfe","stage":"dry","supersedes":"\xff","tester":"",'
    b'"trial":"\xff"}}'
    b'{"reason":"","record":{"at":"2026-01-01T10:00:00.000000Z","censored":"exact","criterion":"","grade":0.0,'
    b'"id":"\xff","note":"","reason":"","rubric":"\xfe","tester":"","trial":"\xff"}}'
)
_BITS, _MEMORY, _LEVEL = -12, 4, 6
"""A window of 4 kB, for the dictionary and most bodies are smaller; little memory, which is cleared for each body."""


def pack(body: str) -> bytes:
    """Return what is kept of a body; `unpack` returns the same text."""
    packer = zlib.compressobj(_LEVEL, zlib.DEFLATED, _BITS, _MEMORY, zlib.Z_DEFAULT_STRATEGY, _WORDS)
    return packer.compress(_SPELLED.sub(_as_bytes, body.encode())) + packer.flush()


def unpack(kept: bytes) -> str:
    """Return the body that `pack` kept; `NO_BODY` for bytes it never wrote, so that `verify` tells which they are."""
    unpacker = zlib.decompressobj(_BITS, _WORDS)
    try:
        packed = unpacker.decompress(kept, LARGEST)
        if not unpacker.eof or unpacker.unused_data:
            return NO_BODY
        return _MARKED.sub(_as_text, packed).decode()
    except (zlib.error, UnicodeDecodeError):
        return NO_BODY


def _as_bytes(found: re.Match[bytes]) -> bytes:
    digits = found[0]
    mark = _DIGEST if len(digits) == 64 else _ID
    return mark + bytes.fromhex(digits.replace(b"-", b"").decode())


def _as_text(found: re.Match[bytes]) -> bytes:
    if found[2] is not None:
        return found[2].hex().encode()
    digits = found[1].hex()
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:])).encode()
