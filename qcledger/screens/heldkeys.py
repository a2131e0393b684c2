"""A page on which a key counts that is meant, and not one that is held down; that is said, and stays to be read."""

from typing import Final

from textual.events import Key

from qcledger.bench import held
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page

NOTICE_KEYS: Final = 1
"""Keys behind which it still stands that a key was held down."""


class HeldKeys(Page):
    """Tells keys that are meant from a key that is held down."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._press: held.Press | None = None
        self.wrote = False
        """Whether the key that was taken last has written something."""
        self._notice = ""
        """What was said of a held key; it stands behind the next key too."""
        self._keys_since = 0

    def take_back_second(self) -> None:
        """Take back what the second press of a held key has written."""
        raise NotImplementedError

    def meant(self, key: str, *, twice: bool = False) -> bool:
        """Say whether a press is meant; a held key is ignored, and said.

        Of a key that may be meant `twice` at any speed, the second press is taken back once it turns out to be held.
        """
        verdict, self._press = held.judge(self._press, key, self.pressed_at, twice=twice)
        if verdict is held.KeyVerdict.TAKE:
            self.wrote = False
            return True
        if verdict is held.KeyVerdict.TAKE_BACK and self.wrote:
            self.wrote = False
            self.take_back_second()
            self._notice = f"{key} is held down: it counts once, its second press was taken back"
        else:
            self._notice = self._notice or f"{key} again at once: held down, and ignored"
        self._keys_since = 0
        self.say("")
        return False

    def on_key(self, event: Key) -> None:
        """Let what was said of a held key stand behind one more key."""
        self._keys_since += 1
        if self._keys_since > NOTICE_KEYS:
            self._notice = ""

    def say(self, line: str, *, problem: bool = False) -> None:
        """Say one line to the tester, behind what a held key has left to be read."""
        if self._notice:
            line, problem = "; ".join(part for part in (self._notice, line) if part), True
        super().say(line, problem=problem)
