"""What a half-written map says of the layout of a table, for a guess that goes on from it."""

from pathlib import Path

from qcledger.exchange.csvfile import decode, read_bytes
from qcledger.exchange.layout import LAYOUT_KEYS, Layout, layout_of
from qcledger.rubric.form import pairs, take
from qcledger.rubric.strict_yaml import Pairs, read


def layout_in(path: Path) -> Layout:
    """Return the layout in a map that need not be finished; raises BadInput with the file's name and line."""
    found = pairs(read(decode(read_bytes(path), path.name), path.name), path.name)
    kept = {key: node for key, node in found.items.items() if key in LAYOUT_KEYS}
    node = Pairs(found.line, kept, {key: found.lines[key] for key in kept})
    return layout_of(take(node, path.name, LAYOUT_KEYS))
