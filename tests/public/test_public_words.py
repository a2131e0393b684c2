"""The rules of words, over pages that are drawn: what no page says, and what none of its sentences leaves out.

By hand ``QCLEDGER_WORLDS=1200`` makes pages of more than 10,000 findings (`tests/findings/test_fair_words.py`).
"""

from dataclasses import replace

import pytest

from qcledger.findings import read
from qcledger.findings.wording_of_counts import MOST_WORDS, WHERE
from qcledger.findings.words import banned_in
from qcledger.public import told
from qcledger.public.to_md import scorecard_md
from qcledger.vocab import Extent, Severity, Standing
from tests.findings.made import criterion, only
from tests.findings.test_fair_words import ANCHORS, COUNT, MAKERS, STICKERS, WORLDS, sentences, world
from tests.public import made

PARTS = 3


def found_in(number):
    """Return the findings of a drawn world, and the same with each claim settled."""
    rows, draw = world(number)
    scale = replace(criterion(severity=draw.choice((Severity.MAJOR, Severity.CRITICAL))), anchors=ANCHORS)
    found = read(rows, only(scale))
    yield found
    told_ = tuple(
        replace(one, standing=Standing.SETTLED, claim=replace(one.claim, standing=Standing.SETTLED))
        if one.claim is not None and not (one.claim.extent is Extent.PARCEL and not one.claim.lots[0].coded)
        else one
        for one in found.findings
    )
    yield replace(found, findings=told_)


@pytest.mark.parametrize("part", range(PARTS))
def test_every_sentence_of_a_drawn_page_is_fair(part):
    """No banned word; forty words at most, stickers aside; who names a maker tells the count and where it is from."""
    said_at_all = 0
    for number in range(part, WORLDS, PARTS):
        for found in found_in(number):
            view = made.view(found)
            assert banned_in(scorecard_md(view)) == (), number
            lines = [one.sentence for one in (*view.statements, *view.cells) if one.sentence]
            lines += [line for one in view.statements for line in one.further]
            lines += [f"{one.maker}: {one.what}: {one.count}." for one in told.at_a_glance(view) if one.maker]
            said_at_all += len(view.statements)
            for one in (sentence for line in lines for sentence in sentences(line)):
                assert len(STICKERS.sub("", one).split()) <= MOST_WORDS, one
                if any(name in one for name in MAKERS.values()):
                    assert WHERE in one, one
                    assert COUNT.search(one), one
    assert said_at_all > WORLDS / PARTS / 3
