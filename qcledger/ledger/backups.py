"""When a ledger was last backed up from this machine, kept in the tester's own settings folder."""

import json
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from qcledger.ledger.disk import write_durably
from qcledger.settings import config_folder

_FILE = "backups.json"


def remember(key: str, at: datetime) -> None:
    """Remember when the ledger at a place was backed up; a folder that cannot be written is no reason to fail."""
    path = _path()
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        known = {**_all(), key: at.astimezone(UTC).isoformat()}
        write_durably(path, json.dumps(known, indent=1, sort_keys=True, ensure_ascii=False).encode())


def last(key: str) -> datetime | None:
    """Return when the ledger at a place was last backed up from here; None when that is not known."""
    with suppress(ValueError, TypeError):
        return datetime.fromisoformat(_all()[key]) if key in _all() else None
    return None


def _all() -> dict[str, str]:
    try:
        known = json.loads(_path().read_bytes())
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) else {}


def _path() -> Path:
    return config_folder() / _FILE
