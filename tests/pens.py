"""A made-up rubric whose formats and stages are its own, for tests that take it all the way."""

from datetime import date

from qcledger.records import Maker, Paint, Parcel, Record, Specimen
from qcledger.rubric import Rubric, parse

TEXT = """\
rubric: pen_lines
title: Lines of a pen
about: A rubric for tests, whose formats and stages are its own.
formats: [vial, ampoule]
stages:
  - wet
  - {name: after a week, after: 7 d}
label:
  - {key: steadiness, title: steadiness, words: as printed}
criteria:
  bleeding:
    title: Bleeding
    how: Draw five lines and look at their edges.
    kind: grade
    nature: fault
    seen_at: bench
    stage: wet
    anchors: {0: Edges sharp., 3: Hairs that the eye sees., 5: Lines run together.}
    source: our proposal
    fault_line: {grade: 3, severity: minor, source: our proposal}
  fading:
    title: Fading
    how: Keep the lines in a window for a week.
    kind: grade
    nature: fault
    seen_at: bench
    stage: after a week
    anchors: {0: As on the first day., 3: Paler., 5: Gone.}
    source: our proposal
    fault_line: {grade: 3, severity: major, source: our proposal}
"""


def pens() -> Rubric:
    """Return the rubric."""
    return parse(TEXT, "pen_lines.yaml")


def bought(*, specimens: int = 4, format_: str = "vial") -> list[Record]:
    """Return specimens of two makers, by turns, from one parcel."""
    rows: list[Record] = [
        Parcel(id="pc", bought_on=date(2026, 1, 2), seller="Corner shop", currency="EUR"),
        *(Maker(id=f"mk{n}", name=name) for n, name in enumerate(("Trellmere", "Quernlow"))),
        *(Paint(id=f"pt{n}", maker=f"mk{n}", name="Night Blue") for n in range(2)),
    ]
    rows += (
        Specimen(id=f"sp{n}", sticker=f"OV {n + 1:04}", paint=f"pt{n % 2}", format=format_, parcel="pc")
        for n in range(specimens)
    )
    return rows
