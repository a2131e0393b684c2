"""What findings would need, as Loose ends tells it: many of one criterion are one line."""

from qcledger.bench.due import LooseEndKind
from qcledger.findings import read
from qcledger.report.picked import to_settle
from tests.findings.made import only, row


def test_findings_of_one_criterion_are_one_line_that_holds_each():
    """The line counts findings and makers; each of them says whose it is and what it needs."""
    rows = [row(maker=maker, grade=5) for maker in "ABC" for _ in "12"]
    (line,) = to_settle(read(rows, only()))
    assert line.kind is LooseEndKind.NEXT
    assert line.words.endswith(": 3 findings of 3 makers need more; this line lists what each needs")
    assert len(line.more) == 3
    assert all("It needs: " in one.words and not one.more for one in line.more)


def test_a_single_finding_is_told_itself():
    """Nothing is to be counted where there is one."""
    (line,) = to_settle(read([row(grade=5), row(grade=5)], only()))
    assert (line.more, "It needs: " in line.words) == ((), True)
