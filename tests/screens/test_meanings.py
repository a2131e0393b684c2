"""One key means one thing on every page, but where the table says otherwise and the page tells it."""

from collections import defaultdict

import pytest

from qcledger.screens import keys
from qcledger.screens.actions import ACTIONS, GO
from qcledger.screens.meanings import CHOICES, MEANINGS, choice_of, in_a_row, is_told_there
from qcledger.settings import shipped


def pages_of_keys() -> dict[str, dict[str, set[str]]]:
    """Return by key and verb the pages on which the key is that verb's, lists that tell their own keys apart."""
    found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    for action in ACTIONS:
        verb = action.id.partition(".")[2]
        if action.page != GO and not is_told_there(verb):
            for key in keys.keys_of(action, {}):
                found[key][verb].add(action.page)
    return found


def test_each_key_has_one_meaning_but_on_the_pages_that_are_named():
    """No page gives a key another meaning unsaid, and none is named that no longer does."""
    for key, verbs in pages_of_keys().items():
        if key not in MEANINGS:
            assert len(verbs) == 1, f"{key} is {', '.join(verbs)}, and has no line in the table"
            continue
        meant = MEANINGS[key]
        others = {page for verb, pages in verbs.items() if verb not in meant.verbs for page in pages}
        assert others == set(meant.but_on), key


def test_the_table_names_no_key_or_verb_that_is_gone():
    """Each key has several verbs, and each verb of a line is one of its."""
    found = pages_of_keys()
    assert MEANINGS.keys() <= found.keys()
    for key, meant in MEANINGS.items():
        assert set(meant.verbs) <= found[key].keys(), key


def test_what_a_letter_means_elsewhere_is_told_on_the_page_that_needs_it():
    """The line of ? says it; a page on which a letter means what it always means says nothing more."""
    told = {name: sentence for _, sentence, name in keys.help_lines("bench", lambda _: True, {})}
    assert told["bench.begin"] == "Begin a new run sheet. (Elsewhere: b label right.)"
    assert told["bench.amend"] == "Amend what stands at this place, with a reason, in full."
    mine = {name: sentence for _, sentence, name in keys.help_lines("bench", lambda _: True, {"bench.begin": "j"})}
    assert mine["bench.begin"] == "Begin a new run sheet."


@pytest.mark.parametrize(
    ("page", "held", "verb"),
    [("loose_ends", "a to l", "do"), ("bench", "0 to 9", "digit"), ("unpacking", "a to y", "pick")],
)
def test_keys_of_a_list_are_one_line_of_help(page, held, verb):
    """Twelve lines of Loose ends, ten digits and all letters of unpacking take a line each."""
    lines = keys.help_lines(page, lambda _: True, {})
    (line,) = (one for one in lines if choice_of(one[2].partition(".")[2]) == verb)
    assert line[:2] == (held, CHOICES[verb])


def test_keys_are_read_out_as_they_follow_each_other():
    """Three in a row are told by their ends, others one by one."""
    assert [in_a_row(held) for held in ("abc", "ab", "mkwlt", "a")] == ["a to c", "a b", "m k w l t", "a"]


def test_the_guide_tells_what_letters_mean():
    """Each letter of the table stands in the chapter on settings, with its meaning."""
    text = (shipped("guide") / "settings.md").read_text(encoding="utf-8")
    for key, meant in MEANINGS.items():
        if key.isalpha() and len(key) == 1:
            assert f"**{key}** {meant.name} |" in text
