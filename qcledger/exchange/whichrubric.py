"""Which rubrics a spreadsheet was kept by, told by its headings."""

from collections.abc import Sequence
from pathlib import Path

from qcledger.errors import QcledgerError
from qcledger.exchange.columnmap import DEFAULT_RUBRICS
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.grading import criteria
from qcledger.exchange.layoutguess import bare
from qcledger.rubric import Criterion
from qcledger.settings import rubric_files


def rubrics_for(headings: Sequence[str]) -> tuple[str, ...]:
    """Return the usual rubrics, the first of them exchanged for the one whose tests more headings name."""
    usual, *beside = DEFAULT_RUBRICS
    told = [{plain(one), bare(one)} for one in headings]
    named = {name: _named(name, told) for name in rubric_files() if name not in beside}
    most = max(named, key=lambda name: (named[name], name == usual))
    return (most, *beside)


def _named(rubric: str, told: Sequence[set[str]]) -> int:
    """Return how many headings name a criterion of a rubric; none for one that cannot be read."""
    try:
        judged = criteria([rubric], Path())
    except QcledgerError:
        return 0
    words = set[str]().union(*(_words(one.criterion) for one in judged.values()))
    return sum(not words.isdisjoint(heading) for heading in told)


def _words(criterion: Criterion) -> set[str]:
    own = (criterion.title, criterion.key.replace("_", " "), *criterion.column_words)
    return {*map(plain, own), *column_words().criteria.get(criterion.key, ())}
