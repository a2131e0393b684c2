"""The view as JSON with the names of `view`; days are texts as ``2026-11-02``."""

import json

from qcledger.public.view import PublicView, plain
from qcledger.text import harmless_in


def scorecard_json(view: PublicView) -> str:
    """Return the view as JSON, indented, ended by a line feed."""
    return json.dumps(harmless_in(plain(view)), ensure_ascii=False, indent=2) + "\n"
