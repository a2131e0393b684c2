"""The guide's list of every shipped criterion, made from the files; ``python -m tests.criteria_page`` writes it."""

import re
from collections.abc import Iterator
from pathlib import Path

from qcledger import rubric
from qcledger.rubric import Criterion, Rubric
from qcledger.rubric.ladder import minutes_words, wrap
from qcledger.settings import REFERENCES, shipped

PAGE = Path(__file__).parents[1] / "qcledger" / "guide" / "criteria.md"
FIRST = ("watercolour", "lasting", "packaging", "label")
HEAD = """# Criteria: what each one takes

Every criterion of the scale files that came with the program: when it is judged, the minutes your hands are busy with
one specimen, amounts, tools, what the result depends on, and how well the scale is founded. What to do, step by step,
and the anchors of each grade: `qcledger rubric watercolour --criterion backruns`. For a sheet of yours:
`qcledger sheet CODE --put-down`.
"""
_AMOUNT = re.compile(r"\d+(?:\.\d+)? by \d+ mm|\d+(?:\.\d+)? (?:ml|g|mm|s|square centimetre)\b")
WIDTH = 76


def page() -> str:
    """Return the whole page."""
    files = {
        path.stem: rubric.load(path) for path in shipped("rubrics").glob("*.yaml") if path.stem not in REFERENCES
    }
    order = [*FIRST, *sorted(set(files) - set(FIRST))]
    return "\n".join([HEAD, *(line for name in order for line in _file(files[name]))]).rstrip("\n") + "\n"


def _file(one: Rubric) -> Iterator[str]:
    yield f"## {one.title} (`{one.key}`)"
    if one.terms:
        yield ""
        yield from (f"- *{word}*: {means}" for word, means in one.terms.items())
    yield ""
    for criterion in one.criteria.values():
        yield from (f"    {line}".rstrip() for line in _criterion(criterion))
    yield ""


def _criterion(one: Criterion) -> Iterator[str]:
    """Yield a criterion in lines of at most `WIDTH` columns, an empty one behind it."""
    amounts = list(dict.fromkeys(_AMOUNT.findall(one.how)))
    seen = one.stage or one.seen_at
    told = {
        "": f"{seen}; {minutes_words(one.minutes)}" if one.minutes else str(seen),
        "Amounts": ", ".join(amounts),
        "Tools": ", ".join(one.tools),
        "Depends on": "; ".join(one.conditions),
        "Counts on": one.continues or "",
        "Shares its cause": one.shares_cause,
        "Source": one.source,
    }
    yield from wrap(f"{one.key}: {one.title}", WIDTH)
    for word, what in told.items():
        if what:
            yield from wrap(f"{word}: {what}" if word else what, WIDTH, first="  ", rest="    ")
    yield ""


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
