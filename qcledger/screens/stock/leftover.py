"""What stands half-typed in the form of a parcel, as one text that outlives the page and the program."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

NAME: Final = "parcel"
"""Name of the draft."""
TAKEN_UP: Final = "taken up where it was left; emptied fields and Esc end it"
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
