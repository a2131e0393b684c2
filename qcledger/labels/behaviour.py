"""Claims of a label about how the paint behaves, by the words that the scales know."""

from collections.abc import Collection, Iterator, Mapping, Sequence

from qcledger.rubric.model import ClaimedGrades
from qcledger.rubric.names import tokens


def claimed(
    claim: str, known: Mapping[str, Sequence[ClaimedGrades]], denials: Collection[str]
) -> Iterator[tuple[str, ClaimedGrades]]:
    """Yield what a claim says of each criterion, by the longest words that stand in it.

    Parameters
    ----------
    claim
        As printed.
    known
        By a criterion's key, the words that claim something of it.
    denials
        Words that take back what follows them, unless the scale knows both together.
    """
    words = tokens(claim)
    for key, some in known.items():
        found = [
            (len(phrase), at, one) for one in some for phrase in map(tokens, one.words) for at in _at(phrase, words)
        ]
        if not found:
            continue
        _, at, one = max(found, key=lambda hit: hit[0])
        if at == 0 or words[at - 1] not in denials:
            yield key, one


def _at(phrase: Sequence[str], words: Sequence[str]) -> Iterator[int]:
    """Yield where a phrase begins among words."""
    for at in range(len(words) - len(phrase) + 1):
        if words[at : at + len(phrase)] == phrase:
            yield at
