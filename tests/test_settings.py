"""Settings are read whole or refused with one clear line."""

import pytest

from qcledger.errors import BadInput
from qcledger.settings import (
    Settings,
    config_folder,
    data_folder,
    load_settings,
    name_photo_folder,
    read_settings,
    settings_file,
    shipped,
)


def test_no_settings_file_means_defaults():
    """A new tester needs no settings."""
    assert load_settings() == Settings()


def test_settings_come_from_the_file(home):
    """What stands in settings.toml is what the program uses."""
    (home / "settings.toml").write_text('decimal_mark = ","\ncurrency = "GBP"\n[keys]\nphoto = "p"\n', "utf-8")
    assert load_settings() == Settings(decimal_mark=",", currency="GBP", keys={"photo": "p"})


@pytest.mark.parametrize(
    ("text", "found", "allowed"),
    [
        ('decimal_mark = ";"', "';'", '"." or ","'),
        ('theme = "neon"', "'neon'", "daylight"),
        ('colour = "red"', "'colour'", "theme"),
        ('bell = "yes"', "'yes'", "true or false"),
        ("keys = 3", "'3'", "action names"),
        ('currency = "XXX"', "'XXX'", "EUR"),
        ("theme = [1]", "'[1]'", "daylight"),
        ("theme daylight", "line 1", 'name = "value"'),
    ],
)
def test_wrong_settings_are_refused_with_what_is_allowed(text, found, allowed):
    """One line says where, what was found and what is allowed."""
    with pytest.raises(BadInput) as refused:
        read_settings(text, "settings.toml")
    line = refused.value.line()
    assert "settings.toml" in line
    assert found in line
    assert allowed in line


def test_a_settings_file_that_cannot_be_read_is_named(home):
    """A settings file that is no UTF-8 text is refused by name."""
    (home / "settings.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(BadInput, match=r"settings\.toml"):
        load_settings()


def test_folders_follow_the_home_variable(home):
    """QCLEDGER_HOME holds settings and data together."""
    assert config_folder() == data_folder() == home


@pytest.mark.parametrize("kind", ["rubrics", "demo_ledger", "guide"])
def test_shipped_folders_are_found(kind):
    """Rubrics, demo and guide are found in a checkout."""
    assert shipped(kind).is_dir()


GUIDE = (shipped("guide") / "settings.md").read_text(encoding="utf-8")


def test_the_guide_names_every_setting_with_its_values_and_default():
    """One row a setting, in their order, with its default; every word and currency that is allowed stands there."""
    import json
    import re
    from dataclasses import fields

    from qcledger.settings import _CHOICES

    rows = re.findall(r"^\| `(\w+)` \| (.*?) \| (.*?) \|", GUIDE, re.MULTILINE)
    assert [name for name, _, _ in rows] == [setting.name for setting in fields(Settings)]
    for name, values, default in rows:
        own = getattr(Settings(), name)
        assert default == (f"`{json.dumps(own)}`" if own != {} else "empty")
        if name != "currency":
            assert re.findall(r'`"(.*?)"`', values) == list(_CHOICES.get(name, ()))
    (listed,) = re.findall(r"^Currencies: (.*)\.$", GUIDE, re.MULTILINE)
    assert tuple(listed.split(", ")) == _CHOICES["currency"]


def test_the_guides_example_is_a_settings_file():
    """What the guide shows is read, and each of its keys names an action that there is."""
    import re

    from qcledger.screens.actions import ACTIONS

    (example,) = re.findall(r"```toml\n(.*?)```", GUIDE, re.DOTALL)
    found = read_settings(example, "settings.toml")
    assert found.decimal_mark == ","
    assert set(found.keys) <= {action.id for action in ACTIONS}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("", 'photo_folder = "{}"\n'),
        ('theme = "lamplight"\n', 'photo_folder = "{}"\ntheme = "lamplight"\n'),
        ('bell = true  # loud\nphoto_folder = "x" # old\n', 'bell = true  # loud\nphoto_folder = "{}"\n'),
        ('[keys]\n"bench.note" = "f2"\n', 'photo_folder = "{}"\n[keys]\n"bench.note" = "f2"\n'),
    ],
    ids=["no file", "another line", "its line", "a table"],
)
def test_the_photo_folder_is_named_and_every_other_line_stays(home, tmp_path, before, after):
    """The file holds what it held, and the folder, also one with quotes in its name."""
    folder = tmp_path / 'shots "new"'
    folder.mkdir()
    if before:
        settings_file().write_text(before, encoding="utf-8")
    assert name_photo_folder(folder).photo_folder == str(folder)
    assert settings_file().read_text(encoding="utf-8") == after.format(str(folder).replace('"', '\\"'))
    assert load_settings().photo_folder == str(folder)


@pytest.mark.parametrize("text", ["theme = ", '"photo_folder" = "x"\n', "photo_folder = [\n]\n"])
def test_a_settings_file_that_cannot_be_written_into_stays_as_it_is(home, tmp_path, text):
    """One that is wrong already, or names the folder another way, is refused and not written over."""
    settings_file().write_text(text, encoding="utf-8")
    with pytest.raises(BadInput):
        name_photo_folder(tmp_path)
    assert settings_file().read_text(encoding="utf-8") == text
    with pytest.raises(BadInput, match="a folder that is there"):
        name_photo_folder(tmp_path / "nowhere")
