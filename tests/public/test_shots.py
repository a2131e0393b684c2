"""The shot list: each public statement in the order of the page, with stickers, photos, and what is missing."""

from dataclasses import replace

import pytest

from qcledger.ledger import Ledger
from qcledger.public.from_findings import claims_told, statements
from qcledger.public.gather import rules_of
from qcledger.public.shots import BESIDE, MISSING, lines_of, shot_list
from qcledger.records import Photo, Specimen
from tests.public.conftest import ON_THE_DAY


@pytest.fixture(scope="module")
def demo_shots(demo_file, demo_found, demo_gathered):
    with Ledger.open(demo_file, sources=ON_THE_DAY) as ledger:
        return shot_list(ledger, demo_found, rules_of(ledger), demo_gathered.view)


def test_each_statement_has_its_shots_in_the_order_of_the_page(demo_shots, demo_gathered):
    """First what is about a code, then about makers, labels, and what is common, each once."""
    view = demo_gathered.view
    parts = (view.of_codes, view.of_makers, view.labels, view.common)
    assert [one.id for one in demo_shots] == [one.id for part in parts for one in part]
    for one, said in ((one, said) for one in demo_shots for said in view.statements if said.id == one.id):
        faulty = [shot for shot in one.shots if shot.what == "faulty"]
        assert 0 < len(faulty) <= min(4, said.faulty)
        assert len({shot.sticker for shot in one.shots}) == len(one.shots)
        assert len([shot for shot in one.shots if shot.what == BESIDE]) <= 1


def test_what_is_missing_is_named_and_what_is_there_is_shown(demo_shots, demo_file):
    """A specimen whose fault has a photo names it; one without says so, and both are counted."""
    with Ledger.open(demo_file, sources=ON_THE_DAY) as ledger:
        stickers = {one.sticker for one in ledger.rows(Specimen)}
        there = {one.sha256[:12] for one in ledger.rows(Photo)}
    shots = [shot for one in demo_shots for shot in one.shots if shot.sticker]
    assert {shot.sticker for shot in shots} <= stickers
    assert {shot.is_missing for shot in shots} == {True, False}
    for shot in shots:
        assert shot.is_missing == (shot.photo == MISSING)
        assert shot.is_missing or any(digest in shot.photo for digest in there)
    lines = list(lines_of(demo_shots))
    (binder,) = [line for line in lines if "Separated binder" in line]
    assert "Quernlow" in binder
    assert "missing" not in binder
    assert sum(one.missing for one in demo_shots) == sum(MISSING in line for line in lines)


def test_a_paint_that_is_kept_private_is_not_called_for(demo_file, demo_found, demo_gathered):
    """What no page names is not to be shown either."""
    of_ochre = {lot.row.paint for one in demo_found.findings for lot in one.lots if lot.row.paint_name == "Ochre"}
    with Ledger.open(demo_file, sources=ON_THE_DAY) as ledger:
        rules = rules_of(ledger)
        kept = replace(rules, kept_paints=rules.kept_paints | of_ochre)
        left = {one.id for one in statements(claims_told(demo_found, kept), kept)}
        said = tuple(one for one in demo_gathered.view.statements if one.id in left)
        view = replace(demo_gathered.view, statements=said, labels=())
        before = shot_list(ledger, demo_found, rules, demo_gathered.view)
        after = shot_list(ledger, demo_found, kept, view)
    assert [shot for one in before for shot in one.shots if "Ochre" in shot.paint]
    assert not [shot for one in after for shot in one.shots if "Ochre" in shot.paint]
