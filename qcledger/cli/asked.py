"""The conditions that a rubric asks for, after a command: each by the name that the rubric gives it."""

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from qcledger.errors import bad
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.bench.worked import Worked

F = TypeVar("F", bound=Callable[..., Any])

TYPED = {"temperature": "temperature_c", "humidity": "humidity_pct"}
"""Options and fields of a form that are not called as the field of the record."""


def condition_options(command: F) -> F:
    """Add the option of conditions to a command; those of before are still taken."""
    for name in ("brush", "water"):
        command = click.option(f"--{name}", metavar="TEXT", default=None, hidden=True)(command)
    told = "What the rubric asks, by its name there, as in --condition 'lamp: north window'; may be repeated."
    return click.option("--condition", "conditions", metavar="NAME:TEXT", multiple=True, help=told)(command)


def by_name(conditions: Iterable[str], work: "Worked") -> dict[str, str]:
    """Return what was given as ``NAME: TEXT``, by field of the record; an empty text is one that is not noted.

    Raises
    ------
    BadInput
        For one that the rubric does not ask for, or without a colon.
    """
    found = {}
    for one in conditions:
        name, colon, text = one.partition(":")
        if not colon:
            raise bad("--condition", one, "a name, a colon and what it was, as in 'lamp: north window'")
        found[work.field_of(name, "--condition")] = one_line(text)
    return found


def noted(given: Mapping[str, Any], work: "Worked") -> dict[str, str]:
    """Return what was given of conditions, by field of a form; raises BadInput as `by_name` does."""
    found = {name: given[name] for name in ("water", "brush") if given.get(name)}
    named = {field: name for name, field in TYPED.items()}
    return found | {named.get(field, field): text for field, text in by_name(given["conditions"], work).items()}


def of_work(work: "Worked", values: Mapping[str, str]) -> dict[str, str]:
    """Return the values of a form without those of conditions that its rubric does not ask for."""
    from qcledger.bench.worked import UNASKED

    gone = set(UNASKED) - set(work.titles)
    return {name: text for name, text in values.items() if TYPED.get(name, name) not in gone}
