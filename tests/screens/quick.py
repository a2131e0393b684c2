"""What many programs of pages in one process need not each do anew: styles are parsed once, rubbish is sought less.

A tester starts the pages once a day, the tests some thousand times.
"""

import gc
import inspect
from collections.abc import Callable
from functools import cache
from typing import Any

from textual import _callback
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

ALLOCATIONS = 20_000
"""New objects after which the youngest are looked through; pages make many, and most are gone with their program."""

_PARSED: dict[tuple[Any, ...], list[RuleSet]] = {}
"""Rules as they were parsed, by the variables and the sources they were parsed from; nobody changes them."""


def be_quick() -> None:
    """Let all programs of this process share what is the same for each; done once."""
    Stylesheet._parse_rules = _parsed_once(Stylesheet._parse_rules)  # type: ignore[method-assign]
    _callback._count_parameters = _counted  # type: ignore[assignment]
    gc.collect()
    gc.freeze()
    gc.set_threshold(ALLOCATIONS, *gc.get_threshold()[1:])


def _parsed_once(parse: Callable[..., list[RuleSet]]) -> Callable[..., list[RuleSet]]:
    """Return `parse` so that equal sources with equal variables are parsed once in a process."""

    def parsed(sheet: Stylesheet, css: str, *args: Any, **kwargs: Any) -> list[RuleSet]:
        key = (frozenset(sheet._variables.items()), css, args, tuple(sorted(kwargs.items())))
        if key not in _PARSED:
            _PARSED[key] = parse(sheet, css, *args, **kwargs)
        return _PARSED[key]

    return parsed


def _counted(func: Callable[..., Any]) -> int:
    """Return how many parameters a callable has; each call of a method makes a new one of the same function."""
    bound = getattr(func, "__self__", None) is not None and hasattr(func, "__func__")
    return _parameters(func.__func__) - 1 if bound else _parameters(func)


@cache
def _parameters(func: Callable[..., Any]) -> int:
    return len(inspect.signature(func).parameters)
