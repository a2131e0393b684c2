"""Texts that were typed and not yet saved, kept where a closed window or a stopped program cannot lose them."""

import json
from contextlib import suppress
from pathlib import Path


class Drafts:
    """Texts by name, in one small file that is written whole or not at all.

    Parameters
    ----------
    path
        The file; it and its folder are made when a first draft is kept.

    Notes
    -----
    A draft is a help, no record: a file that cannot be read or written is passed over in silence.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._texts: dict[str, str] | None = None

    def _known(self) -> dict[str, str]:
        if self._texts is None:
            self._texts = {}
            with suppress(OSError, ValueError):
                found = json.loads(self._path.read_text(encoding="utf-8"))
                if isinstance(found, dict):
                    self._texts = {str(name): text for name, text in found.items() if isinstance(text, str)}
        return self._texts

    def get(self, name: str) -> str:
        """Return the draft of this name; empty when there is none."""
        return self._known().get(name, "")

    def keep(self, name: str, text: str) -> None:
        """Keep a draft; an empty one is dropped."""
        known = self._known()
        if known.get(name, "") == text:
            return
        known[name] = text
        if not text:
            del known[name]
        part = self._path.with_suffix(".part")
        with suppress(OSError):
            self._path.parent.mkdir(parents=True, exist_ok=True)
            part.write_text(json.dumps(known, ensure_ascii=True), encoding="utf-8")
            part.replace(self._path)

    def drop(self, name: str) -> None:
        """Forget a draft, because it was saved."""
        self.keep(name, "")
