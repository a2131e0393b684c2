"""The scales that ship with the program: complete, sourced, cautious, and in words of the trade."""

import re

import pytest

from qcledger import rubric
from qcledger.rubric.ladder import WIDTH, heading, ladder
from qcledger.rubric.model import SOURCE_TAGS
from qcledger.settings import REFERENCES, shipped
from qcledger.vocab import Format, Kind, Nature, Occasion, Severity, StageName

FILES = [path for path in sorted(shipped("rubrics").glob("*.yaml")) if path.stem not in REFERENCES]
RUBRICS = {path.stem: rubric.load(path) for path in FILES}
CRITERIA = [(name, criterion) for name, one in RUBRICS.items() for criterion in one.criteria.values()]
EACH = pytest.mark.parametrize(("name", "criterion"), CRITERIA, ids=[f"{name}-{c.key}" for name, c in CRITERIA])

SHEET_TESTS = [
    "masstone",
    "rewetting",
    "laydown_bubbles",
    "workup_froth",
    "faintness",
    "opacity",
    "gradation",
    "wet_spread",
    "granulation",
    "flocculation",
    "separation",
    "staining",
    "dry_rub_off",
    "glazing",
    "salt",
    "tinting_strength",
    "drying_shift",
    "backruns",
]
PACK_TESTS = [
    "cracked",
    "wrapper_adhesion",
    "loose_in_tray",
    "dried_tube",
    "separated_binder",
    "over_soft",
    "mould",
    "leaking_cap",
    "underfilled",
]
LABEL_TESTS = ["pigment_information", "label_mismatch", "declared_behaviour", "batch_code", "hazard_information"]
TRAITS = [
    "opacity",
    "wet_spread",
    "granulation",
    "flocculation",
    "separation",
    "staining",
    "salt",
    "drying_shift",
    "backruns",
]  # position, not merit


def test_the_scales_hold_what_testers_ask_for():
    """Sheet, pack and label tests are there, and three short scales for neighbours of watercolour."""
    assert list(RUBRICS["watercolour"].criteria) == SHEET_TESTS
    assert list(RUBRICS["packaging"].criteria) == PACK_TESTS
    assert list(RUBRICS["label"].criteria) == LABEL_TESTS
    assert {"gouache", "ink", "pencil"} < set(RUBRICS)


def test_file_names_are_keys():
    """A rubric's key is the name of its file, so that a ledger's rubric can be found again."""
    assert {name: one.key for name, one in RUBRICS.items()} == {name: name for name in RUBRICS}


@EACH
def test_every_offered_grade_has_its_sentence(name, criterion):
    """Each whole grade that may be given is fixed by a sentence of its own that ends as sentences do."""
    whole = [grade for grade in criterion.grades if grade == int(grade)]
    assert whole == list(criterion.anchors)
    sentences = [*criterion.anchors.values(), *criterion.choices.values()]
    assert len(sentences) >= 2
    assert len(set(sentences)) == len(sentences)
    for sentence in sentences:
        assert re.fullmatch(r"[A-Z0-9].{2,}\.", sentence)


@EACH
def test_everything_is_tagged_with_its_source(name, criterion):
    """Anchors, fault line, hints and cautions each begin their source with one of the tags."""
    remarks = [*criterion.hints, *criterion.cautions, *RUBRICS[name].cautions]
    sources = [criterion.source, *(remark.source for remark in remarks)]
    if criterion.fault_line is not None:
        sources.append(criterion.fault_source)
    for tag in sources:
        assert tag.partition(": ")[0] in SOURCE_TAGS


def test_traits_carry_no_fault_line():
    """Position is not merit: traits have no fault line, faults and mixed ones have, with a severity."""
    sheet = RUBRICS["watercolour"].criteria
    assert [key for key, criterion in sheet.items() if criterion.nature is Nature.TRAIT] == TRAITS
    for _, criterion in CRITERIA:
        assert (criterion.fault_line is None) == (criterion.nature is Nature.TRAIT) == (criterion.severity is None)


def test_packs_and_labels_offer_four_grades():
    """Nobody can tell grades 2 and 4 of a pack or label apart, so they are not offered."""
    for name in ("packaging", "label"):
        for criterion in RUBRICS[name].criteria.values():
            assert criterion.grades == (0, 1, 3, 5)


def test_severities_of_the_trade():
    """Mould is critical, missing hazard words never are; what makes paint unfit is major; nuisances are minor."""
    severity = {
        c.key: c.severity for name in ("watercolour", "packaging", "label") for c in RUBRICS[name].criteria.values()
    }
    assert [key for key, found in severity.items() if found is Severity.CRITICAL] == ["mould"]
    major = ["faintness", "laydown_bubbles", "cracked", "dried_tube", "separated_binder", "leaking_cap"]
    assert {severity[key] for key in major} == {Severity.MAJOR}
    assert {severity[key] for key in ("wrapper_adhesion", "loose_in_tray", "batch_code")} == {Severity.MINOR}


def test_places_and_stages():
    """Packs are judged at unpacking, sheets on the bench at the stage that their way of testing names."""
    assert {c.seen_at for c in RUBRICS["packaging"].criteria.values()} == {Occasion.UNPACKING}
    sheet = RUBRICS["watercolour"].criteria
    assert {c.seen_at for c in sheet.values()} == {Occasion.BENCH}
    day_later = [key for key, criterion in sheet.items() if criterion.stage is StageName.AFTER_24H]
    assert day_later == ["staining", "dry_rub_off", "glazing"]
    for key in day_later:
        assert "24 h" in sheet[key].how
    wet = [key for key, criterion in sheet.items() if criterion.stage is StageName.WET]
    assert wet == ["rewetting", "laydown_bubbles", "workup_froth", "wet_spread"]


MEASURED = [criterion for _, criterion in CRITERIA if criterion.kind is Kind.READING and criterion.reading.limits]


@pytest.mark.parametrize("criterion", MEASURED, ids=lambda criterion: criterion.key)
def test_limits_and_anchors_say_the_same(criterion):
    """Where a reading fixes the grade, the numbers of its limits stand in the sentences."""
    sentences = " ".join(criterion.anchors.values())
    numbers = {float(number) for number in re.findall(r"\d+(?:\.\d+)?", sentences)}
    assert {limit for limit in criterion.reading.limits if limit} <= numbers


def test_the_net_content_steps_are_the_directives():
    """Directive 76/211/EEC annex I (seen in a summary): 9 % tolerable from 5 to 50 ml, none beyond twice that."""
    assert RUBRICS["packaging"].criteria["underfilled"].reading.limits == (0, 9, 18)


def test_formats_prove_that_the_code_knows_no_paint():
    """The same code reads scales for tubes and pans, bottles alone, and pencils alone."""
    assert RUBRICS["ink"].formats == (Format.BOTTLE,)
    assert RUBRICS["pencil"].formats == (Format.PENCIL,)
    assert RUBRICS["packaging"].criteria["wrapper_adhesion"].formats == (
        Format.HALF_PAN,
        Format.FULL_PAN,
        Format.STICK,
    )
    assert RUBRICS["packaging"].criteria["dried_tube"].formats == (Format.TUBE,)


def test_cautions_stand_where_work_can_hurt():
    """Dust, mould, hazard words and public accusation each carry a caution that defers to those who decide."""
    sheet, pack, label = (RUBRICS[name] for name in ("watercolour", "packaging", "label"))
    everywhere = " ".join(str(caution) for caution in sheet.cautions)
    assert "scrape" in everywhere
    assert "safety data sheet and local law win" in everywhere
    assert "sniff" in str(pack.criteria["mould"].cautions[0])
    assert "laboratory" in str(label.criteria["label_mismatch"].cautions[0])
    assert "law" in str(label.criteria["hazard_information"].cautions[0])
    assert "legal advice" in str(label.cautions[0])


@pytest.mark.parametrize("path", sorted(shipped("rubrics").glob("*.yaml")), ids=lambda path: path.stem)
def test_scales_accuse_nobody(path):
    """Public words: fault or observation, never the legally loaded word; no motive, no verdict on makers."""
    words = set(re.findall(r"[a-z]+", path.read_text(encoding="utf-8").lower()))
    assert not words & {"defect", "defects", "defective", "fraud", "cheat", "cheap", "knowingly", "illegal"}


@EACH
@pytest.mark.parametrize("width", [WIDTH, 60])
def test_a_ladder_fits_the_terminal(name, criterion, width):
    """A ladder stays within its width, begins with its title and holds each sentence, one rung below the other."""
    lines = ladder(criterion, width)
    assert max(map(len, lines)) <= width
    assert lines[0].startswith(criterion.title)
    flat = " ".join(" ".join(lines).split())
    for sentence in [*criterion.anchors.values(), *criterion.choices.values()]:
        assert " ".join(sentence.split()) in flat
    rungs = [line[2] for line in lines if re.match(r"  \d  \S", line)]
    assert rungs == [f"{grade:g}" for grade in criterion.anchors]


@EACH
def test_a_ladder_draws_the_fault_line(name, criterion):
    """The fault line stands between the last grade that is none and the first that is."""
    lines = ladder(criterion)
    marks = [place for place, line in enumerate(lines) if "a fault from here on" in line]
    assert len(marks) == (criterion.fault_line is not None)
    for place in marks:
        below = next(line for line in lines[place:] if re.match(r"  \d  \S", line))
        assert criterion.is_fault(float(below[2]))


@pytest.mark.parametrize("name", RUBRICS)
def test_headings_fit_the_terminal(name):
    """What a rubric says about itself stays within 80 columns."""
    assert max(map(len, heading(RUBRICS[name]))) <= WIDTH
