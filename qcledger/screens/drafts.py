"""Texts that were typed and not yet saved, kept where a closed window or a stopped program cannot lose them."""

from qcledger.screens.windows import Window


class Drafts:
    """Texts by name, of one window of one ledger.

    Parameters
    ----------
    window
        Where they are kept.

    Notes
    -----
    A draft is a help, no record: a file that cannot be read or written is passed over in silence. Where two windows
    that are gone left a text of one name, the later one is given first, and the other once that is dropped and asked
    for anew. What was never given is never dropped or written over.
    """

    def __init__(self, window: Window) -> None:
        self._window = window
        self._waiting: set[str] = set()
        """Names whose texts were not given, or not since the one above them was dropped."""

    def get(self, name: str) -> str:
        """Return the draft of this name; empty when there is none."""
        self._waiting.discard(name)
        return self._stands(name)

    def keep(self, name: str, text: str) -> None:
        """Keep a draft; an empty one is dropped."""
        if self._stands(name) == text:
            return
        texts = self._window.drafts.pop(name, [])
        below = texts if name in self._waiting else texts[:-1]
        if kept := [*below, *([text] if text else [])]:
            self._window.drafts[name] = kept
        if text:
            self._waiting.discard(name)
        else:
            self._waiting.add(name)
        self._window.write()

    def drop(self, name: str) -> None:
        """Forget a draft, because it was saved or thrown away."""
        self.keep(name, "")

    def pass_over(self, name: str) -> None:
        """Leave a draft that was given and not taken up where it is; what is typed is kept above it."""
        self._waiting.add(name)

    def _stands(self, name: str) -> str:
        texts = self._window.drafts.get(name)
        return texts[-1] if texts and name not in self._waiting else ""
