"""What is read from the one registry of actions: bindings, foot lines, help, and the check of remapped keys."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Final

from textual.binding import Binding

from qcledger.errors import BadInput, Problem, bad
from qcledger.screens.actions import ACTIONS, EVERY_PAGE, GO, Action
from qcledger.screens.meanings import CHOICES, choice_of, elsewhere, in_a_row
from qcledger.thing import PAINT, spoken, worded

_KEY_NAMES: Final[Mapping[str, str]] = {
    "pageup": "Page Up", "pagedown": "Page Down", "enter": "Enter", "escape": "Esc", "backspace": "Backspace",
    "delete": "Del", "home": "Home", "end": "End", "space": "space", "comma": ",", "full_stop": ".", "slash": "/",
    "question_mark": "?", "exclamation_mark": "!", "asterisk": "*", "minus": "-", "plus": "+",
    "less_than_sign": "<", "greater_than_sign": ">", "backslash": "\\",
}  # fmt: skip


def key_name(key: str) -> str:
    """Return how a key is written in foot lines and help: ``-``, ``Page Down``, ``Ctrl+P``."""
    if key in _KEY_NAMES or len(key) == 1:
        return _KEY_NAMES.get(key, key)
    *held, last = key.split("+")
    shown = _KEY_NAMES.get(last, last.upper() if held or last[1:].isdigit() else last)
    return "+".join([*(part.capitalize() for part in held), shown])


def keys_of(action: Action, mine: Mapping[str, str]) -> tuple[str, ...]:
    """Return the keys of an action under the tester's own `mine` (action id to keys)."""
    return tuple(key.strip() for key in mine.get(action.id, action.keys).split(",") if key.strip())


def actions_of(page: str) -> tuple[Action, ...]:
    """Return the actions of one page, in the order of the help, without those of every page."""
    return tuple(
        replace(one, label=worded(one.label), help=worded(one.help)) if spoken() != PAINT else one
        for one in ACTIONS
        if one.page == page
    )


def bindings(page: str) -> list[Binding]:
    """Return the Textual bindings of a page, or of `EVERY_PAGE`, with keys out of the box."""
    return [
        Binding(action.keys, action.call, action.label, show=False, id=action.id, tooltip=action.help,
                priority=action.id in ("any.suspend", "any.quit"))
        for action in actions_of(page)
    ]  # fmt: skip


def foot(page: str, mine: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return (key, label) pairs for the foot line of a page, the most needed first."""
    ranked = sorted((action for action in actions_of(page) if action.rank is not None), key=lambda a: a.rank or 0)
    return [(key_name(keys_of(action, mine)[0]), action.label) for action in ranked]


def action(name: str) -> Action:
    """Return an action by its name."""
    return next(action for action in ACTIONS if action.id == name)


def go_key(mine: Mapping[str, str]) -> str:
    """Return how the key is written behind which the letter of a page opens that page."""
    return key_name(keys_of(action("any.go"), mine)[0])


def pages(mine: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return the page, the key behind `go_key` and the title of each page, in their order."""
    return [(one.id.partition(".")[2], key_name(keys_of(one, mine)[0]), one.label) for one in actions_of(GO)]


def page_title(page: str) -> str:
    """Return the title of a page that opens by a letter; of any other its name, as words."""
    titled = (one.label for one in actions_of(GO) if one.id == f"{GO}.{page}")
    return next(titled, page.replace("_", " ").capitalize())


def page_of(keys: Iterable[str], mine: Mapping[str, str]) -> str | None:
    """Return the page that one of these keys opens behind the key for going; None for none."""
    pressed = set(keys)
    found = (one for one in actions_of(GO) if pressed.intersection(keys_of(one, mine)))
    return next((one.id.partition(".")[2] for one in found), None)


def way_to(page: str, mine: Mapping[str, str]) -> str:
    """Return the two keys that open a page, as they are told: ``, s``."""
    return f"{go_key(mine)} {key_name(keys_of(action(f'go.{page}'), mine)[0])}"


def help_lines(page: str, works: Callable[[str], bool], mine: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Return the keys, the sentence and the name of each action on a page: its own that work, those of every page."""
    own = [one for one in actions_of(page) if works(one.id.partition(".")[2])]
    named = {one.call for one in own}
    every = [one for one in actions_of(EVERY_PAGE) if one.call.removeprefix("app.") not in named]
    lines = [_told(page, list(alike), mine) for _, alike in groupby((*own, *every), _choice)]
    return lines + [(way_to(name, mine), action(f"go.{name}").help, f"go.{name}") for name, _, _ in pages(mine)]


def _choice(one: Action) -> str:
    """Return what actions share that are told in one line: a list in sight says what each of their keys means."""
    return choice_of(one.id.partition(".")[2]) or one.id


def _told(page: str, alike: Sequence[Action], mine: Mapping[str, str]) -> tuple[str, str, str]:
    """Return the keys, the sentence and the names of actions that are told in one line."""
    held = [key for one in alike for key in keys_of(one, mine)]
    if len(alike) > 1:
        return (
            in_a_row([key_name(key) for key in held]),
            CHOICES[_choice(alike[0])],
            f"{alike[0].id} to {alike[-1].id}",
        )
    (one,) = alike
    sentence = f"{one.help} {elsewhere(page, keys_of(one, {}))}".rstrip() if one.id not in mine else one.help
    return " ".join(map(key_name, held)), sentence, one.id


def _clashes(mine: Mapping[str, str], where: str) -> Iterable[Problem]:
    """Yield a problem for each key that two actions of one page would share."""
    everywhere = actions_of(EVERY_PAGE)
    for page in dict.fromkeys(action.page for action in ACTIONS):
        users: dict[str, list[str]] = defaultdict(list)
        for action in actions_of(page):
            for key in keys_of(action, mine):
                users[key].append(action.id)
        for action in everywhere if page != EVERY_PAGE else ():
            for key in keys_of(action, mine) if action.id in mine else ():
                users[key].append(action.id)
        for key, ids in users.items():
            if len(ids) > 1 and any(name in mine for name in ids):
                found = f"{key_name(key)} for {' and '.join(ids)}"
                yield bad(f"{where}, keys", found, "one action a key").problems[0]


def check_keys(mine: Mapping[str, str], where: str) -> None:
    """Check a tester's own keys.

    Raises
    ------
    BadInput
        For an action that does not exist, an action left without a key, or a key given to two actions of a page.
    """
    known = {action.id: action for action in ACTIONS}
    problems = [
        bad(f"{where}, keys", name, "an action listed by ? on its page").problems[0]
        for name in mine
        if name not in known
    ]
    problems += [
        bad(f"{where}, keys, {name}", keys, "at least one key").problems[0]
        for name, keys in mine.items()
        if name in known and not keys_of(known[name], mine)
    ]
    if problems or (problems := list(_clashes(mine, where))):
        raise BadInput(problems)
