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
    that are gone left a text of one name, the later one is given first, and the other once that is dropped.
    """

    def __init__(self, window: Window) -> None:
        self._window = window

    def get(self, name: str) -> str:
        """Return the draft of this name; empty when there is none."""
        texts = self._window.drafts.get(name)
        return texts[-1] if texts else ""

    def keep(self, name: str, text: str) -> None:
        """Keep a draft; an empty one is dropped."""
        if self.get(name) == text:
            return
        before = self._window.drafts.pop(name, [])[:-1]
        if kept := [*before, *([text] if text else [])]:
            self._window.drafts[name] = kept
        self._window.write()

    def drop(self, name: str) -> None:
        """Forget a draft, because it was saved."""
        self.keep(name, "")

    def throw_away(self, name: str) -> None:
        """Forget every text of this name, those that other windows left too."""
        if self._window.drafts.pop(name, None) is not None:
            self._window.write()
