"""What is typed into forms."""

import pytest

from qcledger import figures
from qcledger.bench import typed
from qcledger.errors import BadInput
from qcledger.vocab import Format, WhyBought


def test_words_by_their_beginning():
    """A letter is enough where only one word begins so; the whole word beats a beginning."""
    assert typed.word("h", "format", Format) is Format.HALF_PAN
    assert typed.word(" TUBE ", "format", Format) is Format.TUBE
    assert typed.word("to", "why", WhyBought) is WhyBought.TO_CONFIRM
    for text in ("", "x", "p q"):
        with pytest.raises(BadInput, match="half pan"):
            typed.word(text, "format", Format)


def test_a_form_is_refused_whole_with_a_problem_a_field():
    """Every wrong field is named; empty ones take their default."""
    form = typed.FormReader({"day": "x", "price": "y", "name": ""})
    assert form.read("name", typed.name, default=None) is None
    form.must("day", figures.day, default=None)
    form.read("price", figures.amount, default=None)
    form.must("name", typed.name, default="")
    with pytest.raises(BadInput) as refused:
        form.done()
    assert [problem.where for problem in refused.value.problems] == ["day", "price", "name"]
