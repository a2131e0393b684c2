"""Everything that is said of a finding, for tests that look for words anywhere in it."""

from qcledger.findings import Finding
from qcledger.findings.wording import further, sentence, so_far


def lines_of(found: Finding) -> list[str]:
    """Return the statement, what may be printed beneath it, and what is for the tester only."""
    return [sentence(found), *further(found), *so_far(found)]


def spoken(found: Finding) -> str:
    """Return all of it as one text."""
    return " ".join(lines_of(found))
