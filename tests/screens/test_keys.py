"""The registry of keys: one place, no two meanings of a key on one page."""

from collections import Counter

import pytest

from qcledger.errors import BadInput
from qcledger.screens import keys
from qcledger.screens.actions import ACTIONS


def test_action_names_are_unique_and_told():
    """Each action has a name of its own, a sentence that ends in a full stop, and at least one key."""
    assert [name for name, n in Counter(action.id for action in ACTIONS).items() if n > 1] == []
    for action in ACTIONS:
        assert action.help.endswith(".")
        assert action.label
        assert keys.keys_of(action, {})


def test_no_page_gives_a_key_two_meanings():
    """Within a page every key out of the box means one thing."""
    for page in {action.page for action in ACTIONS}:
        held = Counter(key for action in keys.actions_of(page) for key in keys.keys_of(action, {}))
        assert [key for key, n in held.items() if n > 1] == [], page


@pytest.mark.parametrize(
    ("mine", "found"),
    [
        ({"bench.fly": "x"}, "'bench.fly'"),
        ({"any.theme": " , "}, "','"),
        ({"any.theme": "ctrl+p"}, "Ctrl+P for any.palette and any.theme"),
    ],
    ids=["unknown", "none left", "taken"],
)
def test_wrong_keys_of_ones_own_are_refused_in_one_line(mine, found):
    """What was found is named; nothing is remapped in part."""
    with pytest.raises(BadInput, match=r"settings\.toml, keys") as refused:
        keys.check_keys(mine, "settings.toml")
    assert found in refused.value.line()


def test_two_swapped_keys_are_no_clash():
    """Keys may be exchanged between two actions."""
    keys.check_keys({"any.theme": "f1", "any.help": "f2"}, "settings.toml")


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("z", "z"),
        ("pagedown", "Page Down"),
        ("ctrl+p", "Ctrl+P"),
        ("f2", "F2"),
        ("-", "-"),
        ("space", "space"),
        ("?", "?"),
    ],
)
def test_keys_are_written_as_they_are_engraved(key, name):
    """Foot lines and help write keys as a keyboard does."""
    assert keys.key_name(key) == name
