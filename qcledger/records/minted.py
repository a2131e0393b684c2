"""Ids made from what a row says, so that the same thing gets the same id on every machine."""

import json
from uuid import UUID, uuid5

# Drawn once at random.
_NAMESPACE = UUID("1f0a6f1e-6d0b-4c41-9c58-3f7a5d2f9b60")

# Made once: `json.dumps` would make one anew for each of many thousand rows.
_SPELT = json.JSONEncoder(ensure_ascii=False)


def minted(table: str, *content: str) -> str:
    """Return the id of a row, always the same for the same content (UUID version 5, RFC 9562)."""
    return str(uuid5(_NAMESPACE, _SPELT.encode([table, *content])))
