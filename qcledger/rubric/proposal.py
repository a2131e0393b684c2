"""A grade that follows from something other than a look at the piece, and why."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Proposal:
    """A proposed grade with its reason in words; it is never recorded by itself."""

    grade: float
    because: str
