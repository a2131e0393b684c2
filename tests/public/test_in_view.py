"""Codes hide nothing where the piece itself is under the hands, and then no public face says that they did."""

from dataclasses import replace

import pytest

from qcledger.public.from_findings import IN_HAND, in_view, way_judged
from qcledger.public.view import NOT_BLIND, UNPACKED
from qcledger.vocab import Blinding
from tests.findings.made import criterion, row

ON_PAPER = replace(criterion("streaks"), on_the_piece=False)
ON_THE_PIECE = replace(criterion("waking"), on_the_piece=True)


@pytest.mark.parametrize("kind", [Blinding.OTHER_PERSON, Blinding.SHUFFLED, Blinding.CODED])
def test_codes_hide_nothing_of_what_is_done_on_the_piece(kind):
    """The same session is told as under codes on paper, and as in view where the pan itself is worked on."""
    seen = row(session="one", blinding=kind)
    assert "in view" not in way_judged(seen, ON_PAPER)
    assert not in_view(seen, ON_PAPER)
    assert way_judged(seen, ON_THE_PIECE) == IN_HAND
    assert in_view(seen, ON_THE_PIECE)


@pytest.mark.parametrize("asked", [ON_PAPER, ON_THE_PIECE])
def test_an_open_session_and_unpacking_are_told_as_they_were(asked):
    """Where no code was given, it stays "not blind"; without a session it stays unpacking."""
    assert way_judged(row(session="one", blinding=Blinding.OPEN), asked) == NOT_BLIND
    assert way_judged(row(session=None), asked) == UNPACKED
