"""The faces of the view by their names; each reads the view and nothing else."""

from collections.abc import Callable, Mapping
from typing import Final

from qcledger.public.to_csv import scorecard_csv
from qcledger.public.to_html import scorecard_html
from qcledger.public.to_json import scorecard_json
from qcledger.public.to_md import scorecard_md
from qcledger.public.view import PublicView

FACES: Final[Mapping[str, Callable[[PublicView], str]]] = {
    "md": scorecard_md,
    "csv": scorecard_csv,
    "json": scorecard_json,
}
"""The faces that need no photos."""

__all__ = ["FACES", "scorecard_csv", "scorecard_html", "scorecard_json", "scorecard_md"]
