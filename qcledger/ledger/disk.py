"""Files that are on the disk, whole, before anything refers to them."""

import os
import secrets
from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Wait until the names in `folder` are on the disk; systems without folder handles do that themselves."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Wait until the content of a file is on the disk."""
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def write_durably(path: Path, content: bytes) -> None:
    """Write a file so that after a crash it is there whole or not at all: temporary file, fsync, rename, folder."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with draft.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(draft, path)  # noqa: PTH105 - the call the durability test listens for
    finally:
        draft.unlink(missing_ok=True)
    sync_folder(path.parent)
