"""Charts of the control: what moved is marked and said, also in plain ASCII and narrow."""

from datetime import timedelta

import pytest

from qcledger.findings.control import ControlLook
from qcledger.report.chart import chart_lines, charts, label, said, series_of, slow_drift
from qcledger.report.strips import PLAIN, SHADED
from qcledger.rubric import load
from qcledger.settings import shipped
from tests.small import START

CRITERIA = load(shipped("rubrics") / "watercolour.yaml").criteria
# NIST/SEMATECH e-Handbook 6.3.2.2 (check-values section 7, from memory), to be read as turns: mean 50.81.
FLOWRATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def looks(*grades, void=(), readings=()):
    read = [(one,) for one in readings] or [()] * len(grades)
    return [
        ControlLook(f"s{n}", f"S{n:02}", START + timedelta(days=n), "OV", n in void, (float(grade),), read[n])
        for n, grade in enumerate(grades)
    ]


def drawn(own, key="granulation", width=80, ink=SHADED):
    (series,) = series_of({key: own}, CRITERIA)
    return chart_lines(series, width, ink)


def test_what_moved_is_marked_and_said():
    """Seven sessions at 2.5 and one at 4: that line alone has the mark of a move, and the words name it."""
    own = looks(*[2.5] * 7, 4)
    lines = drawn(own)
    assert lines[0] == "Control, Granulation: moved +1.5 in S07. Otherwise 2.5 in the middle of seven"
    marked = [line for line in lines if "▓" in line]
    assert [line[:3] for line in marked] == ["S07"]
    assert marked[0].endswith("moved +1.5")
    assert sum("█" in line for line in lines) == 7


def test_a_grade_within_one_of_the_usual_is_steady():
    """2, 3 and 3 around 2.5: within one grade, no word beside any session."""
    (series,) = series_of({"granulation": looks(2, 3, 3, 2)}, CRITERIA)
    assert said(series).startswith("steady, 2.5 in the middle of four sessions, 2 to 3")
    assert not any(place.words for place in series.places)


def test_void_sessions_are_marked_and_set_nothing():
    """A void session is shown as such and does not move what is usual."""
    own = looks(2, 2, 5, 2, void={2})
    (series,) = series_of({"granulation": own}, CRITERIA)
    assert [place.centre for place in series.places] == [2, 2, 2, 2]
    assert "void" in series.places[2].words
    assert "Running average 2," in slow_drift(series)


def test_plain_letters_where_the_terminal_has_no_others():
    """Every character is ASCII, and the marks are told in the label."""
    text = "\n".join(drawn(looks(2, 2, 2, 4), ink=PLAIN))
    assert text.isascii()
    assert "#" in text
    for mark in "o#|.":
        assert mark in label(PLAIN)
    assert label(PLAIN).isascii()


@pytest.mark.parametrize("width", [30, 43, 44, 60, 80, 120])
@pytest.mark.parametrize("ink", [PLAIN, SHADED])
def test_lines_keep_to_the_width(width, ink):
    """Grades and readings, in words and drawn."""
    own = looks(0, 1, 0, 1, 0, 4, readings=(5, 6, 5, 6, 5, 40))
    for key in ("granulation", "rewetting_in_fives", "tinting_ratio"):
        assert max(map(len, drawn(own, key, width, ink))) <= width


def test_readings_have_an_individuals_chart():
    """Each of the handbook's ten values against the other nine: none outside; one far beyond them is."""
    own = looks(*[4] * 10, readings=FLOWRATE)
    (series,) = series_of({"rewetting_in_fives": own}, CRITERIA)
    assert not any(place.words for place in series.places)
    assert "turns in the middle of ten sessions, 47.6 to 53.6" in said(series)
    own = looks(*[4] * 11, readings=(*FLOWRATE, 75.0))
    (series,) = series_of({"rewetting_in_fives": own}, CRITERIA)
    assert [place.look.code for place in series.places if "outside the band" in place.words] == ["S10"]


def test_a_reading_beyond_its_limit_is_charted_by_its_grade():
    """A session whose reading lies beyond the limit has no readings, so the chart is that of grades."""
    own = looks(5, 5, 5, 5)
    (series,) = series_of({"rewetting_in_fives": own}, CRITERIA)
    assert series.unit == ""


def test_slow_drift_is_seen_where_no_single_session_moves():
    """Half a grade at a time, each session within one grade of the middle: the running average leaves its limits."""
    own = looks(1, 1, 1, 1, 1, 1.5, 2, 2, 2, 2)
    (series,) = series_of({"granulation": own}, CRITERIA, 0.3)
    assert not any("moved" in place.words for place in series.places)
    assert "left its limits" in slow_drift(series)
    (steady,) = series_of({"granulation": looks(*[1, 1.5] * 5)}, CRITERIA, 0.3)
    assert "no slow drift" in slow_drift(steady)


def test_what_moved_farthest_comes_first():
    """Of two criteria the one that moved stands first; with two sessions there is no chart."""
    found = series_of(
        {"staining": looks(1, 1, 1, 1), "granulation": looks(1, 1, 1, 4), "salt": looks(1, 5)}, CRITERIA
    )
    assert [one.title for one in found] == ["Granulation", "Staining"]
    assert charts(found, 80, SHADED)[0].startswith("Control, Granulation")
    assert charts([], 80, SHADED) == []
