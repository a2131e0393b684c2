"""A ledger of pencils whose rubric compares by hardness, from labels on disk to what is said."""

from datetime import date, timedelta

import pytest

from qcledger.findings import read
from qcledger.ledger import Ledger
from qcledger.records import (
    Comparison,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    RunRow,
    Session,
    Sheet,
    Specimen,
    Trial,
)
from qcledger.report import findings_text, why_text
from qcledger.report.strips import PLAIN
from qcledger.rubric import load
from qcledger.settings import shipped
from qcledger.vocab import Blinding, Format, Occasion
from tests.small import START, ticking

HARDNESSES = ("2H", "HB", "2B", "6B")
MAKERS = ("Aldwick", "Brae", "Corm", "Dunlin", "Esk")


def rubric():
    """Return the pencils' rubric, which compares them by hardness."""
    return load(shipped("rubrics") / "pencil.yaml")


def pencils(maker, faulty):
    """Yield one maker's pencils, one of each hardness, three of a lot each; `faulty` says of which."""
    yield Maker(id=maker, name=maker)
    yield Parcel(id=f"pc-{maker}", bought_on=date(2026, 1, 2), seller=f"Shop of {maker}", currency="EUR")
    for place, hardness in enumerate(HARDNESSES):
        one = f"{maker}-{hardness}"
        yield Paint(id=one, maker=maker, name=f"Drawing {hardness}")
        facts = (f"hardness: {hardness if maker != 'Brae' else hardness.lower()}",)
        yield LabelVersion(id=f"lb-{one}", paint=one, seen_on=date(2026, 1, 2), facts=facts)
        yield Lot(id=f"lt-{one}", paint=one, format=Format.PENCIL, code=f"{maker[0]}{place}")
        for n in range(3):
            number = 100 * MAKERS.index(maker) + 10 * place + n + 1
            piece = f"sp-{one}-{n}"
            yield Specimen(
                id=piece, sticker=f"OV {number:04}", paint=one, format=Format.PENCIL, parcel=f"pc-{maker}",
                lot=f"lt-{one}",
            )  # fmt: skip
            yield RunRow(id=f"rr-{piece}", session="se", sheet="sh", position=number, specimen=piece)
            at = START + timedelta(minutes=number)
            yield Trial(
                id=f"tr-{piece}", specimen=piece, occasion=Occasion.BENCH, at=at, session="se", run_row=f"rr-{piece}"
            )
            yield Observation(
                id=f"ob-{piece}", trial=f"tr-{piece}", criterion="core_breaks", rubric=rubric().hash,
                grade=5 if faulty(hardness) else 0, tester="OV", at=at,
            )  # fmt: skip


@pytest.fixture
def ledger(tmp_path):
    """Yield a ledger in which the softest pencils break at all makers but one."""
    with Ledger.create(
        tmp_path / "lead.sqlite",
        letters="OV",
        tester="OV",
        sources=ticking(START + timedelta(days=9)),
        zone="Etc/UTC",
    ) as opened:
        opened.append([
            opened.keep_rubric(rubric()),
            Comparison(
                id="cp", title="pencils", question="?", started_on=START.date(), rubrics=(rubric().hash,)
            ),
            Session(
                id="se", code="S01", comparison="cp", tester="OV", blinding=Blinding.OPEN, started_at=START
            ),
            Sheet(id="sh", session="se", number=1, paper="cartridge"),
            *(row for maker in MAKERS[:-1] for row in pencils(maker, "6B".__eq__)),
            *pencils(MAKERS[-1], lambda _: False),
        ])  # fmt: skip
        yield opened


def test_a_fault_of_a_hardness_is_laid_to_it_and_to_no_maker(ledger):
    """From labels on disk, in whatever capitals, to board and why: the hardness is named, no pigment is."""
    known = rubric()
    found = read(ledger.tested_rows(), lambda _, key: known.criteria[key])
    text = " ".join(findings_text(found).split())
    assert "shared hardness" in text
    one = next(one for one in found.findings if one.maker_name == "Brae")
    why = " ".join(why_text([one], ink=PLAIN).split())
    assert "Hardness 6B, at 4 of 5 makers in what we tested" in why
    assert "none is blamed" in why
    assert "of the same hardness in the same format" in why
    assert "pigment" not in (text + why).lower()
