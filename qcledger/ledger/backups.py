"""When a ledger was last backed up from this machine, kept in the tester's own settings folder.

There is a small file for each ledger, so that two programs never write over what the other one remembers.
"""

import json
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from qcledger.ledger.chain import sha256
from qcledger.ledger.disk import write_durably
from qcledger.settings import config_folder

_FOLDER = "backups"
_OLD_FILE = "backups.json"
"""One file for every ledger, as earlier versions wrote it; read where nothing newer is there, never written."""


def remember(key: str, at: datetime) -> None:
    """Remember when the ledger at a place was backed up; a folder that cannot be written is no reason to fail."""
    path = _path(key)
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        known = {key: at.astimezone(UTC).isoformat()}
        write_durably(path, json.dumps(known, indent=1).encode())


def last(key: str) -> datetime | None:
    """Return when the ledger at a place was last backed up from here; None when that is not known."""
    known = {**_read(config_folder() / _OLD_FILE), **_read(_path(key))}
    with suppress(ValueError, TypeError):
        return datetime.fromisoformat(known[key]) if key in known else None
    return None


def _read(path: Path) -> dict[str, str]:
    try:
        known = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) else {}


def _path(key: str) -> Path:
    return config_folder() / _FOLDER / f"{sha256(key.encode('utf-8', 'surrogateescape'))[:16]}.json"
