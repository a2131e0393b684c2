"""Styles are parsed once, and anew where a colour has changed."""

import pytest
from textual.css.errors import StylesheetError
from textual.css.stylesheet import Stylesheet

from qcledger.screens.app import Pages
from qcledger.screens.styles import ParsedOnce
from tests.screens.support import SAMPLES, Sample, desk_of, settle

INK = {"ink": "#102030"}


@pytest.fixture
def parsed(monkeypatch):
    """Return the sources that were looked up in vain among what was parsed before."""
    sources = []
    parse = Stylesheet._parse_rules

    def noted(sheet, css, *args, **kwargs):
        known = set(sheet._parse_cache.keys())
        rules = parse(sheet, css, *args, **kwargs)
        if set(sheet._parse_cache.keys()) != known:
            sources.append(css)
        return rules

    monkeypatch.setattr(Stylesheet, "_parse_rules", noted)
    return sources


def test_only_what_is_new_is_parsed(parsed):
    """A second source does not have the first one parsed again, nor do the same colours once more."""
    sheet = ParsedOnce(variables=INK)
    sheet.add_source("Label { color: $ink; }", ("one", ""))
    sheet.parse()
    sheet.add_source("Static { color: $ink; }", ("two", ""))
    sheet.set_variables(dict(INK))
    sheet.reparse()
    assert parsed == ["Label { color: $ink; }", "Static { color: $ink; }"]
    assert len(sheet.rules) == 2
    assert sorted(sheet.rules_map) == ["Label", "Static"]


def test_another_colour_is_taken_in():
    """What was parsed with other colours no longer holds."""
    sheet = ParsedOnce(variables=INK)
    sheet.add_source("Label { color: $ink; }", ("one", ""))
    sheet.parse()
    sheet.set_variables({"ink": "#405060"})
    sheet.reparse()
    assert sheet.rules[0].styles.color.hex == "#405060"


def test_what_cannot_be_read_leaves_the_rules_that_stand():
    """A source that is no style sheet is refused, and the rules before it hold on."""
    sheet = ParsedOnce(variables=INK)
    sheet.add_source("Label { color: $ink; }", ("one", ""))
    sheet.parse()
    before = list(sheet.rules)
    sheet.add_source("Label { color: no-such-colour; }", ("two", ""))
    with pytest.raises(StylesheetError):
        sheet.reparse()
    assert sheet._rules == before


async def test_the_other_theme_colours_every_page():
    """The pages' own sheet takes the colours of the theme that is chosen, and goes back to those before."""
    app = Pages(desk_of(), SAMPLES)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert isinstance(app.stylesheet, ParsedOnce)
        before = app.screen.styles.background
        app.action_next_theme()
        await settle(pilot)
        assert app.screen.styles.background != before
        app.action_next_theme()
        await settle(pilot)
        assert app.screen.styles.background == before


@pytest.mark.parametrize(("size", "classes"), [((80, 24), {"-normal", "-high"}), ((120, 11), {"-wide", "-low"})])
async def test_a_page_that_comes_is_styled_as_it_is_laid_out(monkeypatch, size, classes):
    """Neither its window's size nor that it comes to the front styles all of it anew; doing so changes nothing."""
    app = Pages(desk_of(), SAMPLES)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        anew, style = [], app.update_styles
        monkeypatch.setattr(app, "update_styles", lambda node, **how: (anew.append(node), style(node, **how)))
        page = Sample(app.desk)
        app.push_screen(page)
        await settle(pilot)
        assert classes <= page.classes
        assert page not in anew
        before = {node: node.styles.get_rules() for node in page.walk_children(with_self=True)}
        app.stylesheet.update(page)
        assert before == {node: node.styles.get_rules() for node in page.walk_children(with_self=True)}
