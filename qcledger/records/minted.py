"""Ids made from what a row says, so that the same thing gets the same id on every machine."""

from hashlib import sha1
from json.encoder import encode_basestring
from uuid import UUID

# Drawn once at random.
_NAMESPACE = UUID("1f0a6f1e-6d0b-4c41-9c58-3f7a5d2f9b60").bytes
_VARIANT = {digit: "89ab"[int(digit, 16) % 4] for digit in "0123456789abcdef"}


def minted(table: str, *content: str) -> str:
    """Return the id of a row, always the same for the same content (UUID version 5, RFC 9562, section 5.5).

    The name is a JSON list of texts. Both are written out here: of `json` and `uuid`, which make an object each time,
    an import of many thousand rows would be a tenth.
    """
    name = f"[{', '.join(map(encode_basestring, (table, *content)))}]"
    digits = sha1(_NAMESPACE + name.encode(), usedforsecurity=False).hexdigest()
    version_and_variant = f"5{digits[13:16]}-{_VARIANT[digits[16]]}{digits[17:20]}"
    return f"{digits[:8]}-{digits[8:12]}-{version_and_variant}-{digits[20:32]}"
