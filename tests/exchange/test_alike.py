"""New names near known ones: the same as compared all at once, and summed up by kind where they are many."""

from hypothesis import given
from hypothesis import strategies as st

from qcledger.exchange.alike import FEW, NearNames, NewNames
from qcledger.text import near, same_name
from tests.exchange.test_mapped import MAP, bring_in, changed, ledger, sheet

__all__ = ["ledger"]

NAMES = st.lists(st.text("abc D", min_size=1, max_size=6), max_size=12, unique_by=same_name)


@given(NAMES, NAMES)
def test_names_that_come_one_by_one_are_near_as_if_all_had_been_there(known, asked):
    """Whatever was asked before others came, the answer is that of `text.near`, which compares all anew."""
    found, seen = NearNames(), []
    for place, name in enumerate(known):
        seen.append(name)
        for one in [*asked, name][: place + 2]:
            assert found.near(one, seen) == near(one, seen)


def test_few_are_told_with_their_command_and_many_in_one_line_a_kind():
    """Up to three new paints stand in a line each; of more there is one line with their number and first examples."""
    names = NewNames()
    names.note("paint", "Nothing near", [], "Drumlaw ")
    assert list(names.lines()) == []
    for number in range(FEW):
        names.note("paint", f"Rose {number}", ["Rose"], "Drumlaw ")
    names.note("maker", "Drumlow", ["Drumlaw"], "")
    assert next(names.lines()) == (
        "Drumlaw Rose 0 is new, and not the same as Rose; if it is, once it is in: "
        'qcledger same-as paint "Drumlaw Rose 0" "Drumlaw Rose"'
    )
    assert len(list(names.lines())) == FEW + 1
    names.note("paint", "Rose 3", ["Rose"], "Drumlaw ")
    assert next(names.lines()) == (
        "4 new paints have names near others and stay their own, such as Drumlaw Rose 0 beside Rose, "
        "Drumlaw Rose 1 beside Rose, Drumlaw Rose 2 beside Rose; "
        "once they are in, qcledger same-as lists what may be one"
    )
    assert len(list(names.lines())) == 2


def test_a_plan_sums_up_its_new_names(ledger, tmp_path):
    """Twenty new paints of one maker, each near another: one line of the plan says so."""
    rows = [changed(No=str(number), Colour=f"Quay Rose {chr(65 + number)}") for number in range(20)]
    plan = bring_in(ledger, sheet(tmp_path, *rows), MAP)
    (told,) = [line for line in plan.guesses if "near others" in line]
    assert told.startswith("19 new paints have names near others")
