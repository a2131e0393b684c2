"""The rules of words, over findings that are drawn: what no sentence says, and what none leaves out."""

import os
import random
import re
from dataclasses import replace

import pytest

from qcledger.findings import read
from qcledger.findings.said import DoubtedSession, SaidBeside
from qcledger.findings.wording import further, sentence, so_far
from qcledger.findings.wording_of_counts import MOST_WORDS, WHERE
from qcledger.findings.words import banned_in
from qcledger.vocab import Blinding, Extent, Severity, Standing, WhyBought
from tests.findings.made import HALF, PIGMENTS, TUBE, confirming, criterion, field, only, row

MAKERS = {
    "A": "Trellmere", "B": "Quernlow", "C": "Aldervane", "D": "Fennacre", "E": "Corvannet", "F": "Maslenne",
    "G": "Drumlaw",
}  # fmt: skip
ANCHORS = {
    0.0: "Nothing shows.", 1.0: "A trace that a lamp brings out.", 2.0: "It shows at arm's length.",
    3.0: "Two coats are needed to match.", 4.0: "Three coats are needed to match.", 5.0: "Three coats do not match.",
}  # fmt: skip
WORLDS = int(os.environ.get("QCLEDGER_WORLDS", "60"))
"""Worlds drawn, of some nine findings each; by hand ``QCLEDGER_WORLDS=1200`` makes more than 10,000 findings."""
_NUMBER = r"(?:none|no|\d+|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)"
COUNT = re.compile(rf"\b{_NUMBER} (?:of \d+|specimens?)\b")
STICKERS = re.compile(r"OV \d+,? (?:and )?")
"""What may concern health is said of each specimen, however many: a list of stickers is no long sentence."""
KINDS = ("nobody", "maker", "cell", "pigment", "format", "lot", "paint", "specimen", "scattered")


def world(number):
    """Return the rows of a drawn world: one of several kinds of truth, with gaps, gifts of chance and repeats."""
    draw = random.Random(f"fair words {number}")
    guilty = KINDS[number % len(KINDS)]
    makers = "ABCDEFG"[: draw.choice((2, 5, 7))]
    pigments = PIGMENTS[: draw.choice((1, 4, 4))]
    formats = (HALF, TUBE) if guilty == "format" else draw.choice(((HALF,), (HALF, TUBE)))
    rows = field(makers, pigments=pigments, formats=formats, each=draw.choice((1, 2, 3)))
    bad = draw.choice((3, 4, 5))
    first = makers[0]
    told = {
        "nobody": lambda one: False,
        "maker": lambda one: one.maker == first,
        "cell": lambda one: (one.maker, one.format) == (first, HALF),
        "pigment": lambda one: one.pigments == (pigments[0],),
        "format": lambda one: one.format is HALF,
        "lot": lambda one: (one.maker, one.lot_code) == (first, "L1") and one.pigments == (pigments[0],),
        "paint": lambda one: one.maker == first and one.pigments == (pigments[0],),
        "specimen": lambda one: one is rows[0],
        "scattered": lambda one: draw.random() < 0.2,
    }[guilty]
    changed = []
    for one in rows:
        if draw.random() < 0.05:
            continue
        more = {"grade": bad if told(one) else draw.choice((0, 0, 1))}
        if draw.random() < 0.05:
            more |= {"grade": None, "not_testable": True}
        if draw.random() < 0.1:
            more |= {"lot": None, "lot_code": None}
        if draw.random() < 0.1:
            more |= {"session": None, "session_code": None, "blinding": None}
        changed.append(_as(one, **more))
    if draw.random() < 0.5:
        changed += [_as(one) for one in confirming(first, bad=bad, number=draw.choice((2, 3)))]
    if draw.random() < 0.3:
        changed += [_as(row(maker=first, grade=bad, why=WhyBought.NOTE, blinding=Blinding.OPEN))]
    return changed, draw


def _as(one, **more):
    return replace(one, maker_name=MAKERS[one.maker], **more)


def drawn(number):
    """Return the findings of a world, each also as if it were settled, and with a session under question."""
    rows, draw = world(number)
    scale = replace(criterion(severity=draw.choice((Severity.MAJOR, Severity.CRITICAL))), anchors=ANCHORS)
    for one in read(rows, only(scale)).findings:
        yield one
        if one.claim is not None and not (one.claim.extent is Extent.PARCEL and not one.claim.lots[0].coded):
            said = SaidBeside(doubted=(DoubtedSession("S1", ("granulation",)),))
            yield replace(
                one, standing=Standing.SETTLED, claim=replace(one.claim, standing=Standing.SETTLED), said=said
            )


def sentences(text):
    """Return the sentences of a text; a full stop within a quoted anchor does not end one."""
    return re.split(r"(?<=[.!?])\s+(?=[A-Z\"])", text)


@pytest.mark.parametrize("part", range(6))
def test_each_sentence_is_fair(part):
    """No banned word; forty words at most, stickers aside; who names a maker tells the count and where it is from."""
    for number in range(part, WORLDS, 6):
        for one in drawn(number):
            lines = [sentence(one), *further(one), *so_far(one)]
            assert len(sentence(one).split()) <= MOST_WORDS, sentence(one)
            for line in lines:
                assert banned_in(line) == (), line
                for said in sentences(line):
                    assert len(STICKERS.sub("", said).split()) <= MOST_WORDS, said
                    if any(name in said for name in MAKERS.values()):
                        assert WHERE in said, said
                        assert COUNT.search(said), said


@pytest.mark.parametrize("part", range(6))
def test_a_sentence_quoted_alone_accuses_of_no_more_than_the_whole(part):
    """Only the statement may point to the maker; of what is shared or open no sentence does, and no fault is told."""
    for number in range(part, WORLDS, 6):
        for one in drawn(number):
            public = [said for line in (sentence(one), *further(one)) for said in sentences(line)]
            pointing = [said for said in public if "points to the maker" in said or "points to this maker" in said]
            against = one.standing is Standing.SETTLED and one.extent in (Extent.MAKER, Extent.MAKER_FORMAT)
            assert all("we do not know" in said for said in pointing)
            assert against or not pointing
            if one.standing in (Standing.OPEN, Standing.TO_CONFIRM, Standing.CHECKING):
                assert not [said for said in public if "faulty" in said or "Seen:" in said]
            if one.extent in (Extent.PIGMENT, Extent.FORMAT) and one.standing is Standing.SETTLED:
                assert not any(name in sentence(one) for name in MAKERS.values())


def test_the_drawn_worlds_reach_what_the_rules_speak_of():
    """The rules above are asked of every standing that there is without the model, and of nearly every extent."""
    found = [one for number in range(45) for one in drawn(number)]
    assert {one.standing for one in found} >= {Standing.NONE_FOUND, Standing.OPEN, Standing.SETTLED}
    assert {one.extent for one in found if one.extent} >= set(Extent) - {Extent.PARCEL, Extent.SESSION}
