"""What a rubric file says of peers."""

import pytest

from qcledger.errors import BadInput
from qcledger.rubric import PeerGroup, parse
from qcledger.rubric.model import BY_FORMAT, PIGMENTS

HEAD = """\
rubric: lead
title: Pencils of graphite
about: How they behave.
formats: [pencil]
label:
  - {{key: hardness, title: hardness}}
{peers}criteria:
  breaks:
    title: Breaks
    how: Sharpen and count.
    kind: grade
    nature: fault
    seen_at: {seen_at}
    {stage}
    anchors: {{0: None., 5: Many.}}
    source: our proposal
    fault_line: {{grade: 5, severity: minor, source: our proposal}}
"""


def peers(said: str, *, at_bench: bool = True) -> PeerGroup:
    """Return what makes peers of the one criterion of a file that says this."""
    place = ("bench", "stage: dry") if at_bench else ("unpacking", "letter: b")
    text = HEAD.format(peers=said, seen_at=place[0], stage=place[1])
    return parse(text, "lead.yaml").criteria["breaks"].peers


def test_a_file_that_says_nothing_compares_by_pigments():
    """As every file did before; at unpacking even labels that name none are compared, by their format."""
    assert peers("") == peers("peers: pigments\n") == PIGMENTS
    assert not PIGMENTS.silent
    assert peers("", at_bench=False).silent


def test_a_part_of_the_label_makes_peers():
    """With the words for one and for several; what has none is compared by its format."""
    said = "peers: {key: hardness, one: hardness, many: hardnesses}\n"
    assert peers(said) == PeerGroup("hardness", "hardness", "hardnesses", silent=True)
    assert peers(said).named(["HB"]) == "hardness HB"
    assert peers("peers: {key: hardness}\n") == PeerGroup("hardness", "hardness", "hardnesses", silent=True)
    assert peers("peers: format\n") == BY_FORMAT


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        ("peers: weight\n", r"line 7: found .weight.; allowed: pigments, format"),
        ("peers: {key: core, one: core, many: cores}\n", r"line 7: found .peers by core.; allowed: one of hardness"),
        ("peers: {one: hardness}\n", r"line 7: found .no key key."),
        (
            "peers: {key: index_names, one: pigment, many: pigments}\n",
            r"peers by index_names.; allowed: one of hardness",
        ),
    ],
)
def test_peers_by_what_no_label_says_are_refused(said, refused):
    """With the parts that the file's labels have."""
    with pytest.raises(BadInput, match=refused):
        peers(said)
