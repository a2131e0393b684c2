"""Anchors of a page: plain names of its parts, each one once."""

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable


def slug(*parts: str) -> str:
    """Return texts as an anchor: plain letters and digits, joined by hyphens."""
    plain = unicodedata.normalize("NFKD", " ".join(parts)).encode("ascii", "ignore").decode().casefold()
    return "-".join(re.findall(r"[a-z0-9]+", plain))[:80].strip("-") or "x"


def anchors(names: Iterable[str]) -> list[str]:
    """Return anchors in order, each one once: what is there already gets a number."""
    seen: Counter[str] = Counter()
    found = []
    for name in names:
        seen[name] += 1
        found.append(name if seen[name] == 1 else f"{name}-{seen[name]}")
    return found
