"""A label put right from Why, where its pigments decide whom a finding compares with."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import LabelVersion
from qcledger.screens.dialogs import Ask
from qcledger.screens.findings.choose import Choose
from qcledger.screens.findings.why import Why
from qcledger.screens.forms.form import FormPage
from qcledger.screens.widgets.fields import Field
from tests.screens.findings.support import findings, shelf_ledger
from tests.screens.support import in_front


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def pigments(place):
    with Ledger.open(place) as ledger:
        return ledger.get(LabelVersion, "lbpt1.0").index_names


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
async def test_one_of_the_labels_behind_a_finding_is_put_right(place, size):
    """B asks which; the peers until now and from now on are said before it is kept; z takes it back."""
    async with findings(place, size) as at:
        await at.to("Corvannet", "enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("How sure this is")
        await at.pilot.press("b")
        await at.until(lambda: in_front(at.app, Choose))
        await at.sees("Corvannet PG18 half pan: PG18", "PB36")
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, Why))
        await at.pilot.press("b")
        await at.until(lambda: in_front(at.app, Choose) and "PG18, seen on" in at.picture)
        offered = [line for line in at.picture.splitlines() if "seen on" in line]
        assert len(offered) == 4
        place_of = next(n for n, line in enumerate(offered) if "half pan: PG18, seen on" in line)
        await at.pilot.press(*["down"] * place_of)
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, FormPage) and at.app.screen._ready)
        await at.pilot.press(*"PB29")
        reason = next(one for one in at.app.screen.query(Field) if one.name == "reason")
        reason.value = "p"
        await at.pilot.press("f3")
        await at.until(lambda: isinstance(at.app.screen, Ask))
        await at.until(
            lambda: "half pan: compared with eight specimens of four other makers (PG18) until now" in _flat(at)
        )
        assert "with no other maker's (PB29) from now on." in _flat(at)
        assert "Not typed: constitution numbers or chemical names." in _flat(at)
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Why))
        await at.sees("z takes it back")
        assert pigments(place) == ("PB29",)
        await at.pilot.press("z")
        await at.sees("taken back, label of Corvannet")
        assert pigments(place) == ("PG18",)


def _flat(at):
    """Return what stands in the window in front, on one line."""
    framed = [line.split("|") for line in at.picture.splitlines() if line.count("|") == 2]
    return " ".join(" ".join(line[1] for line in framed).split())
