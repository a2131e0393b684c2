"""The tables are read models: whatever was done, rebuilding them from the entries changes nothing."""

import shutil
import tempfile
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, initialize, rule

from qcledger.errors import BadInput
from qcledger.ledger import Ledger, daybooks
from qcledger.records import Maker, Paint
from tests.ledger.given import NOON, basics, everything, graded, steady, tried

NAMES = st.text("abcé ", min_size=1, max_size=5).filter(str.strip)


def test_rebuilding_changes_nothing(ledger):
    """Rows, current observations and closing hashes are the same after every table was written anew."""
    ledger.append([graded("a"), graded("b", 2.0, supersedes="a", reason="slip"), Maker(id="maker", name="Other")])
    before = everything(ledger), ledger.tested_rows(), ledger.closing_hashes()
    ledger.rebuild()
    assert (everything(ledger), ledger.tested_rows(), ledger.closing_hashes()) == before


def test_rebuilding_takes_out_what_no_entry_tells(ledger):
    """A row that was changed or put in past the entries is as its entries tell after a rebuild."""
    before = everything(ledger)
    with ledger._database.writing() as connection:
        connection.exec_driver_sql("UPDATE maker SET name = 'changed'")
        connection.exec_driver_sql("INSERT INTO maker (id, name, note, daybook) VALUES ('extra', 'x', '', 'x')")
    assert everything(ledger) != before
    ledger.rebuild()
    assert everything(ledger) == before


@dataclass(frozen=True)
class Begun:
    """A ledger's file, and the last entry of the daybook that goes on in it."""

    content: bytes
    last: daybooks.Remembered


@cache
def _begun() -> dict[str, Begun]:
    """Make the two ledgers that every run begins with, once."""
    folder = Path(tempfile.mkdtemp(prefix="qcledger-"))
    made = {
        name: Ledger.create(
            folder / name, letters=letters, tester=name, sources=steady(begin, f"b{name}"), daybook=book
        )
        for name, letters, begin, book in (
            ("a", "AV", NOON, "book-a"),
            ("b", "BO", NOON + timedelta(days=400), "book-b"),
        )
    }
    made["a"].append(basics())
    made["b"].adopt(made["a"].entries(), {})
    made["a"].adopt(made["b"].entries(), {})
    found = {}
    for name, ledger in made.items():
        last = daybooks.Remembered(f"book-{name}", *ledger.closing_hashes()[f"book-{name}"])
        ledger.close()
        found[name] = Begun((folder / name).read_bytes(), last)
    shutil.rmtree(folder)
    return found


class TwoLedgers(RuleBasedStateMachine):
    """Two testers whose clocks differ write, amend, correct, redact, reopen and merge, in any order."""

    rows = Bundle("rows")
    marks = Bundle("marks")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="qcledger-"))
        self.count = 0
        self.made_by, self.trials = {}, {}

    @initialize()
    def begin(self):
        """Each begins a ledger; both know the same trial."""
        fast = steady(NOON + timedelta(days=401), "ib")  # a clock more than a year ahead
        self.sources = {"a": steady(NOON + timedelta(days=1), "ia"), "b": fast}
        self.ledgers = {}
        for name, kept in _begun().items():
            place = self.folder / name
            place.write_bytes(kept.content)
            daybooks.remember(str(place), kept.last)  # it is this machine's own, and no copy
            self.ledgers[name] = Ledger.open(place, write=True, sources=self.sources[name])

    def fresh(self) -> str:
        """Return an id that was not used before."""
        self.count += 1
        return f"row-{self.count:04d}"

    @rule(target=rows, who=st.sampled_from("ab"), name=NAMES)
    def add(self, who, name):
        """Write a new row and one that names it."""
        row = self.fresh()
        self.made_by[row] = who
        self.ledgers[who].append([Maker(id=row, name=name), Paint(id=f"p-{row}", maker=row, name=name)])
        return row

    @rule(row=rows, who=st.sampled_from("ab"), name=NAMES)
    def amend(self, row, who, name):
        """Write a shared row again: the last word of whoever made it stands, whoever's clock is ahead."""
        stood = self.ledgers[who].get(Maker, row)
        if stood is not None:
            self.ledgers[who].append([Maker(id=row, name=name)], reason="better")
            said = " ".join(name.split()) if self.made_by[row] == who else stood.name
            assert self.ledgers[who].get(Maker, row).name == said

    @rule(target=marks, who=st.sampled_from("ab"), grade=st.integers(0, 5))
    def grade(self, who, grade):
        """Record an observation."""
        row = self.fresh()
        self.made_by[row] = who
        trial, seen = tried(row, float(grade))
        self.trials[row] = trial.id
        self.ledgers[who].append([trial, seen])
        return row

    @rule(target=marks, mark=consumes(marks), who=st.sampled_from("ab"))
    def correct(self, mark, who):
        """Supersede an observation; one of the other tester's is refused, or proposed."""
        row = self.fresh()
        self.made_by[row] = who
        try:
            trial = self.trials[mark]
            self.ledgers[who].append([graded(row, trial=trial, supersedes=mark, reason="slip")])
            self.trials[row] = trial
        except BadInput:
            assert self.made_by[mark] != who  # and perhaps not merged yet
            return mark
        assert self.made_by[mark] == who
        return row

    @rule(mark=consumes(marks), who=st.sampled_from("ab"))
    def redact(self, mark, who):
        """Take out an observation that nothing names."""
        for entry in self.ledgers[who].history("observation", mark):
            if self.made_by[mark] != who:
                with pytest.raises(BadInput, match="an entry of"):
                    self.ledgers[who].redact(entry=entry.hash, reason="not mine to take out")
                continue
            self.ledgers[who].redact(entry=entry.hash, reason="a name stood in the note")
            assert self.ledgers[who].history("observation", mark)[0].body is None

    @rule(who=st.sampled_from("ab"))
    def reopen(self, who):
        """Close and open again; the same daybook is continued."""
        self.ledgers[who].close()
        self.ledgers[who] = Ledger.open(self.folder / who, write=True, sources=self.sources[who])

    @rule(pair=st.sampled_from(["ab", "ba"]))
    def merge(self, pair):
        """Take in what the other has; what is one's own stays as it is."""
        self._merge(*pair)

    def _merge(self, source, target):
        before = self.ledgers[target].closing_hashes()
        refused = None
        try:
            self.ledgers[target].adopt(self.ledgers[source].entries(), {})
        except BadInput as error:  # one tester corrected what the other redacted meanwhile
            refused = error
        if refused is not None:
            assert "redact this row too" in str(refused)
            assert self.ledgers[target].closing_hashes() == before
        after = self.ledgers[target].closing_hashes()
        assert after[f"book-{target}"] == before[f"book-{target}"]

    @rule(who=st.sampled_from("ab"))
    def rebuild(self, who):
        """Compare the tables with what a rebuild makes of the entries."""
        before = everything(self.ledgers[who])
        self.ledgers[who].rebuild()
        assert everything(self.ledgers[who]) == before

    def teardown(self):
        """In the end both ledgers verify, with a daybook of each tester."""
        for ledger in getattr(self, "ledgers", {}).values():
            assert ledger.verify() == []
            before = everything(ledger)
            ledger.rebuild()
            assert everything(ledger) == before
            assert len(ledger.closing_hashes()) == 2
            ledger.close()
        shutil.rmtree(self.folder)


TestTwoLedgers = TwoLedgers.TestCase
TestTwoLedgers.settings = settings(
    max_examples=20, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck)
)
