"""What stands half-typed in the form of a parcel, as one text that outlives the page and the program."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from qcledger.screens.dialogs import Anew
from qcledger.screens.drafts import Drafts

if TYPE_CHECKING:
    from qcledger.screens.stock.common import CommonFields
    from qcledger.screens.stock.pieceform import PieceForm

NAME: Final = "parcel"
"""Name of the draft."""
TAKEN_UP: Final = "taken up where it was left and not saved; F7 throws it away"
"""Said where what was half-typed stands in a form again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """A parcel as it was left.

    Parameters
    ----------
    parcel
        Its id once a piece of it was saved; empty before.
    common, line
        What was typed, by field.
    """

    parcel: str = ""
    common: Mapping[str, str] = field(default_factory=dict)
    line: Mapping[str, str] = field(default_factory=dict)

    def text(self) -> str:
        """Return the draft: a line a field, empty ones left out."""
        parts = {"common": self.common, "line": self.line}
        typed = [
            f"{part} {name} {value}" for part, values in parts.items() for name, value in values.items() if value
        ]
        return "\n".join([f"parcel id {self.parcel}", *typed] if self.parcel else typed)

    @classmethod
    def read(cls, text: str) -> "Leftover":
        """Return what a draft holds; lines of another form are passed over."""
        parts: dict[str, dict[str, str]] = {"parcel": {}, "common": {}, "line": {}}
        for line in text.split("\n"):
            part, _, rest = line.partition(" ")
            name, _, value = rest.partition(" ")
            if value and part in parts:
                parts[part][name] = value
        return cls(parcel=parts["parcel"].get("id", ""), common=parts["common"], line=parts["line"])


def keep(drafts: Drafts, fields: "CommonFields", form: "PieceForm", begun: str) -> None:
    """Keep what is typed and not saved of a parcel, by its id once it was `begun`."""
    line, common = form.typed(), fields.values()
    if any(line.values()) or (not begun and common != fields.proposed):
        drafts.keep(NAME, Leftover(parcel=begun, common=common, line=line).text())
    else:
        drafts.drop(NAME)


def turn(anew: Anew, drafts: Drafts, fields: "CommonFields", form: "PieceForm", *, common: bool) -> str:
    """Empty a parcel's line, and what is `common` to it, or bring back what was emptied; returns what to say."""
    drafts.drop(NAME)
    now = {f"common {name}": text for name, text in fields.values().items()} if common else {}
    first = {f"common {name}": text for name, text in fields.proposed.items()} if common else {}
    line = form.typed()
    values, said = anew.turn({**now, **line}, {**first, **dict.fromkeys(line, "")})
    fields.take({name.removeprefix("common "): text for name, text in values.items() if name in now})
    form.take_up({name: text for name, text in values.items() if name in line})
    return said
