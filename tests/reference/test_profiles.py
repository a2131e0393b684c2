"""The expected behaviour of pigments was written down before what is tested with it, and stays as it was."""

import json
from hashlib import sha256

import pytest

from tests.reference.make_profiles import GRADE, PROFILES

PAIRS = PROFILES.with_name("pairs.json")
WRITTEN = {
    PROFILES: "5255d5c6e1a9d6a9e00b19eb5c9a08c0e2ebed429bf68c928ecba208b8abad9b",
    PAIRS: "fe388a23485ab119f450c30c402ae328552015c79b80b76d50474b8b24c5dc73",
}


@pytest.mark.parametrize(("file", "digest"), WRITTEN.items(), ids=lambda one: getattr(one, "name", ""))
def test_profiles_are_as_they_were_written(file, digest):
    """Not a byte has changed; whoever changes the reference of pigments leaves these alone."""
    assert sha256(file.read_bytes()).hexdigest() == digest


def test_chances_add_up():
    """Each trait that practice tells has chances of whole grades that add up to 1, as far as four digits do."""
    told = json.loads(PROFILES.read_text())
    sums = [sum(row[trait]) for row in told.values() for trait in GRADE if row[trait]]
    assert len(sums) > 300
    assert sums == pytest.approx([1.0] * len(sums), abs=3e-4)


def test_pairs_name_pigments_that_have_a_profile():
    """Each label, and each substitute that is no mixture, has a profile; a mixture has the words of one."""
    told = json.loads(PROFILES.read_text())
    for pair in json.loads(PAIRS.read_text())["pairs"]:
        assert pair["label"] in told
        assert pair["inside"] in told or set(pair["mixture"]) == {*GRADE, "strength"}
