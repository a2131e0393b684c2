"""The scales of what was graded, found again by name."""

import pytest

from qcledger.bench.scales import named, scales


def test_every_kept_scale_is_known(small):
    """Each criterion of each kept rubric, under the rubric's hash."""
    with small.open() as ledger:
        found = scales(ledger)
    assert found[small.rubric.hash, "edge"].title == "Edge"
    assert len(found) == 11


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("", None),
        ("  ", None),
        ("EDGE", ("edge",)),
        ("t-i n_t", ("tint",)),
        ("ness", ("evenness", "rough")),
        ("zz", ()),
    ],
)
def test_criteria_are_found_by_title_or_key(small, text, keys):
    """Case, blanks, hyphens and underscores do not matter; no text means all."""
    with small.open() as ledger:
        assert named(text, scales(ledger)) == keys
