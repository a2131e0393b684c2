"""Readings against peers: a reading beyond its limit is counted as such, and never as the limit."""

from types import SimpleNamespace

from qcledger.report.timed import median_words, reading_lines
from qcledger.stats.timed import median
from qcledger.vocab import Censored

# Freireich et al 1963 (R: MASS::gehan): weeks in remission, 6-MP and control; medians 23 and 8, log-rank 16.79,
# p 4.17e-5 (check-values section 11).
SIX_MP = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
CONTROL = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def _lot(maker, told):
    rows = [
        SimpleNamespace(
            reading=float(one.rstrip("+-")),
            censored=Censored.ABOVE if one.endswith("+") else Censored.BELOW if one.endswith("-") else Censored.EXACT,
            maker=maker,
        )
        for one in told.split()
    ]
    return SimpleNamespace(units=[SimpleNamespace(row=row) for row in rows], row=SimpleNamespace(maker=maker))


def _told(ours, peers, stop_at=60.0, width=200):
    reading = SimpleNamespace(unit="weeks", stop_at=stop_at)
    finding = SimpleNamespace(
        criterion=SimpleNamespace(reading=reading),
        lots=[_lot("a", ours)],
        field=SimpleNamespace(peers=lambda _: [_lot("b", peers)] if peers else []),
    )
    return list(reading_lines(finding, width))


def test_published_medians_and_test_are_printed():
    """The leukaemia trial comes out with its medians, its censored counts, and the later group named."""
    ours, peers, test = _told(SIX_MP, CONTROL)
    assert ours == "These: median 23 weeks (95 %: 13 to open) in 21 readings, 12 of them beyond the limit."
    assert peers == "Peers, one other maker: median 8 weeks (95 %: 4 to 11) in 21 readings."
    assert test.startswith("These are reached later than the peers' (log-rank test, chance below 0.0001")


def test_beyond_the_limit_is_never_the_limit():
    """Mostly "> 60": the median lies above 60 and is not 60."""
    told = _told("60+ 60+ 60+ 20 30", "5 6 7 8 9")[0]
    assert "median > 60 weeks" in told
    assert "median 60" not in told
    assert (
        median_words(median([60.0], [True]), "turns") == "median > 60 turns in 1 reading, 1 of them beyond the limit"
    )


def test_what_cannot_be_compared_is_said():
    """Few readings have no test, no peers are said, readings below a limit are left out and counted."""
    assert _told("5 6", "7 8 9")[-1] == "Under 5 readings on one side: no test."
    assert _told("5 6 7", "")[-1] == "No readings of peers."
    assert _told("5 6 7 8 9 3-", "5 6 7 8 9")[-1] == "Left out, known only to lie below a limit: 1."
    assert _told("5 6 7 8 9", "5 6 7 8 9")[-1].startswith("No difference from the peers is shown")
    assert _told("5 6 7", "5 6", stop_at=None) == []
