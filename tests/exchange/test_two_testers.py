"""Two testers record, import, restore, rename, unite, amend and merge in any order: one story either way."""

import csv
import shutil
import tempfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, multiple, rule

from qcledger.cli.findings import of_ledger
from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped
from qcledger.exchange.columnmap import parse
from qcledger.ledger import Ledger, daybooks
from qcledger.records import (
    SHARED,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    SameAs,
    Session,
    Specimen,
    Trial,
)
from qcledger.report import findings_json
from qcledger.settings import Settings
from qcledger.vocab import Blinding, Occasion, Sameness
from tests.exchange.test_mapped import HEADER, MAP
from tests.ledger.given import NOON, PACKED, PACKING, basics, steady

DAY = timedelta(days=1)
WHO = st.sampled_from(["an", "be"])
NAMES = st.sampled_from(["Quernlow", "quernlow ", "Quern Low", "Drumlaw"])
COLUMN_MAP = parse(MAP + "new_makers: true\n", "map")
LETTERS = {"an": "AN", "be": "BE"}


class TwoTesters(RuleBasedStateMachine):
    """Each ledger has its tester's clock; nothing the one does may depend on when the other merges."""

    pieces = Bundle("pieces")
    decisions = Bundle("decisions")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="qcledger-"))
        self.ledgers: dict[str, Ledger] = {}
        self.hashes: dict[tuple[str, int], str] = {}
        self.specimens: set[str] = set()
        self.rows = {"an": 0, "be": 0}
        self.count = 0

    @initialize()
    def begin(self):
        """Each begins a ledger, on clocks that differ by a year."""
        for place, who in enumerate(LETTERS):
            self.sources = {**getattr(self, "sources", {}), who: steady(NOON + (1 + 365 * place) * DAY, who)}
            (self.folder / who).mkdir()
            self.ledgers[who] = Ledger.create(
                self.place(who), letters=LETTERS[who], tester=f"Tester {who}", sources=self.sources[who]
            )
            self.ledgers[who].append([PACKED])
            self.note(who)

    def place(self, who):
        """Return where a tester's ledger is."""
        return self.folder / who / "ledger.sqlite"

    def free_sticker(self, who):
        """Return the sticker after the last one of a tester's here, as the pages propose it."""
        letters = LETTERS[who]
        counts = [int(row.sticker[3:]) for row in self.ledgers[who].rows(Specimen) if row.sticker.startswith(letters)]
        return f"{letters} {max(counts, default=0) + 1:04d}"

    def fresh(self, who):
        """Return an id that was not used before."""
        self.count += 1
        return f"{who}-{self.count:04d}"

    @rule(target=pieces, who=WHO, name=NAMES, grade=st.sampled_from([0.0, 3.0, 5.0]), code=st.sampled_from("AB"))
    def record(self, who, name, grade, code):
        """Buy and unpack a piece of a maker, who is found again only by the very spelling."""
        ledger, row = self.ledgers[who], self.fresh(who)
        maker = next((one for one in ledger.rows(Maker) if one.name == name.strip()), None)
        maker = maker or Maker(id=f"mk-{row}", name=name)
        new = [
            maker,
            Paint(id=f"pt-{row}", maker=maker.id, name="Viridian"),
            LabelVersion(id=f"lb-{row}", paint=f"pt-{row}", seen_on=NOON.date(), index_names=("PG18",)),
            Lot(id=f"lt-{row}", paint=f"pt-{row}", format="half pan", code=code),
            Parcel(id=f"pc-{row}", bought_on=NOON.date(), seller="Seller one", currency="EUR"),
            Specimen(
                id=row,
                sticker=self.free_sticker(who),
                paint=f"pt-{row}",
                format="half pan",
                parcel=f"pc-{row}",
                lot=f"lt-{row}",
            ),
            Trial(id=f"tr-{row}", specimen=row, occasion=Occasion.UNPACKING, at=NOON + DAY),
            Observation(
                id=f"ob-{row}",
                trial=f"tr-{row}",
                criterion="cracked",
                rubric=PACKING.hash,
                tester=f"Tester {who}",
                at=NOON + DAY,
                grade=grade,
            ),
        ]
        ledger.append(new)
        self.note(who)
        return row

    @rule(who=WHO, more=st.integers(1, 3))
    def imports(self, who, more):
        """Bring in a sheet that has grown: only what is new comes in, whatever was restored or merged meanwhile."""
        self.rows[who] += more
        path = self.folder / who / "stock.csv"
        with path.open("w", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(HEADER)
            for number in range(1, self.rows[who] + 1):
                maker = ("Quernlow", "Drumlaw")[number % 2]
                cells = [maker, f"Colour {number % 3}", "hp", "-", "12.3.2024", "Seller one", "9.80", "meh", "7", "x"]
                writer.writerow([str(number), *cells])
        ledger = self.ledgers[who]
        before = len(ledger.rows(Specimen))
        plan = plan_mapped(ledger, path, COLUMN_MAP, settings=Settings())
        carry_out(ledger, plan)
        assert (plan.new_rows, plan.rows_here) == (more, self.rows[who] - more)
        assert len(ledger.rows(Specimen)) == before + more
        self.note(who)

    @rule(who=WHO)
    def restore(self, who):
        """Go on with a copy, as after a restore: a new daybook of the same tester begins."""
        ledger = self.ledgers[who]
        books = len(ledger.closing_hashes())
        ledger.close()
        daybooks.remember(str(self.place(who)), None)
        named = {"letters": LETTERS[who], "tester": f"Tester {who}"}
        self.ledgers[who] = Ledger.open(self.place(who), write=True, sources=self.sources[who], **named)
        assert len(self.ledgers[who].closing_hashes()) == books + 1
        self.note(who)

    @rule(
        target=decisions,
        who=WHO,
        kind=st.sampled_from(list(Sameness)),
        first=st.integers(0, 5),
        second=st.integers(0, 5),
        name=NAMES,
    )
    def decide(self, who, kind, first, second, name):
        """Say that two makers are the same, or are not, or what one is called now."""
        ledger = self.ledgers[who]
        makers = ledger.rows(Maker)
        if not makers:
            return multiple()
        subject, other = makers[first % len(makers)].id, makers[second % len(makers)].id
        if kind is not Sameness.CALLED and subject == other:
            return multiple()
        row = SameAs(
            id=self.fresh(who),
            kind=kind,
            subject_table="maker",
            subject=subject,
            other=None if kind is Sameness.CALLED else other,
            name=f"{name.strip()} now" if kind is Sameness.CALLED else None,
            by=f"Tester {who}",
            on=NOON.date(),
            reason="as told",
        )
        ledger.append([row])
        self.note(who)
        return row.id

    @rule(who=WHO, decision=decisions)
    def undo(self, who, decision):
        """Take a decision back; another tester's only its own tester may."""
        row = self.ledgers[who].get(SameAs, decision)
        if row is not None:
            self.write(who, replace(row, undone=True), decision)

    @rule(who=WHO, piece=pieces, note=st.sampled_from(["chipped", "dented"]), lotless=st.booleans())
    def amend(self, who, piece, note, lotless):
        """Write a specimen again, or propose that to the tester whose it is."""
        row = self.ledgers[who].get(Specimen, piece)
        if row is not None:
            self.write(who, replace(row, note=note, lot=None if lotless else row.lot), piece)

    def write(self, who, record, row):
        """Write what is one's own, and propose the rest."""
        ledger = self.ledgers[who]
        stood = ledger.get(type(record), record.id)
        mine = row.startswith(who)
        try:
            ledger.append([record], reason="seen")
            assert mine or stood == record
        except BadInput:
            assert not mine
            ledger.append([record], reason="seen", proposing=True)
            assert ledger.get(type(record), record.id) == stood
        self.note(who)

    @rule(pair=st.sampled_from([("an", "be"), ("be", "an")]))
    def merge(self, pair):
        """Take in what the other has; one's own daybooks stay as they are."""
        source, target = pair
        self.ledgers[target].adopt(self.ledgers[source].entries(), {})
        self.note(target)

    def note(self, who):
        """Hold every hash that was ever seen against what stands, and remember every specimen."""
        for entry in self.ledgers[who].entries():
            assert self.hashes.setdefault((entry.daybook, entry.seq), entry.hash) == entry.hash
        self.specimens |= {row.id for row in self.ledgers[who].rows(Specimen)}

    def teardown(self):
        """Merge both into fresh ledgers, in either order and twice: they tell one story and lose nothing."""
        try:
            if self.ledgers:
                merged = [self._merged(order) for order in (("an", "be"), ("be", "an"))]
                assert merged[0] == merged[1]
        finally:
            for ledger in self.ledgers.values():
                ledger.close()
            shutil.rmtree(self.folder)

    def _merged(self, order):
        place = self.folder / f"{order[0]}-first.sqlite"
        early = steady(NOON - DAY, "me")  # more than a day before all that comes in, however it ticks
        with Ledger.create(place, letters="ME", tester="Me", sources=early, daybook="me") as both:
            for who in (*order, *order):
                both.adopt(self.ledgers[who].entries(), {})
            assert both.verify() == []
            assert {row.id for row in both.rows(Specimen)} == self.specimens
            assert {key: value for key, value in self._hashes(both) if key[0] != "me"} == self.hashes
            found = story(both)
            both.rebuild()
            assert story(both) == found
            return found

    def _hashes(self, ledger):
        return [((entry.daybook, entry.seq), entry.hash) for entry in ledger.entries()]


def story(ledger):
    """Return everything a reader is told: the evidence, the findings from it, disputes and doubts."""
    rows = sorted(map(repr, ledger.tested_rows()))
    told = findings_json(of_ledger(ledger, wanted=()))
    return rows, told, [one.line() for one in ledger.disputes()], ledger.doubts()


TestTwoTesters = TwoTesters.TestCase
TestTwoTesters.settings = settings(
    max_examples=12, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck)
)


def test_two_sessions_of_one_code_stay_two(tmp_path):
    """A shuffled session and an open one, both S01 of one comparison, are two after a merge, each as it was."""
    made = []
    for number, (letters, blinding) in enumerate((("AN", Blinding.SHUFFLED), ("BE", Blinding.OPEN))):
        (tmp_path / letters).mkdir()
        ledger = Ledger.create(
            tmp_path / letters / "l.sqlite",
            letters=letters,
            tester=letters,
            sources=steady(NOON + number * DAY, letters),
        )
        session = replace(basics()[8], id=f"se-{letters}", code="S01", blinding=blinding, closed_at=None)
        shared = [row for row in basics() if type(row) in SHARED and type(row) is not Lot]
        ledger.append([*shared, session])
        made.append(ledger)
    made[0].adopt(made[1].entries(), {})
    made[1].adopt(made[0].entries(), {})
    for ledger in made:
        assert {row.id: row.blinding for row in ledger.rows(Session)} == {
            "se-AN": Blinding.SHUFFLED,
            "se-BE": Blinding.OPEN,
        }
        ledger.close()
