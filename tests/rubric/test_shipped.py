"""The scales that ship with the program: complete, sourced, cautious, and in words of the trade."""

import csv
import re
from pathlib import Path

import pytest

from qcledger import rubric
from qcledger.rubric.continued import continued
from qcledger.rubric.ladder import WIDTH, heading, ladder
from qcledger.rubric.model import SOURCE_TAGS
from qcledger.settings import REFERENCES, shipped
from qcledger.vocab import Format, Kind, Nature, Occasion, Severity, StageName
from tests.criteria_page import PAGE, page

FILES = [path for path in sorted(shipped("rubrics").glob("*.yaml")) if path.stem not in REFERENCES]
RUBRICS = {path.stem: rubric.load(path) for path in FILES}
CRITERIA = [(name, criterion) for name, one in RUBRICS.items() for criterion in one.criteria.values()]
EACH = pytest.mark.parametrize(("name", "criterion"), CRITERIA, ids=[f"{name}-{c.key}" for name, c in CRITERIA])

SHEET_TESTS = [
    "rewetting_in_fives",
    "froth_amount",
    "froth_time",
    "laydown_count",
    "laydown_rings",
    "evenness",
    "grit_specks",
    "dry_finish",
    "opacity",
    "wet_spread",
    "dry_brush",
    "gradation_steps",
    "wash_faintness",
    "tinting_ratio",
    "hue_beside_peers",
    "brightness_beside_peers",
    "granulation",
    "flocculation",
    "separation",
    "staining",
    "rub_off_weighted",
    "tack",
    "glazing_pick_up",
    "drying_shift",
    "salt",
    "backruns",
]  # in the order in which a hand can lay them down
LASTING_TESTS = ["poured_cracking", "poured_shrinking", "poured_stickiness", "light_3_months", "light_12_months"]
PACK_TESTS = [
    "cracked",
    "wrapper_adhesion",
    "loose_in_pan",
    "loose_in_box",
    "stiff_tube",
    "parted_binder",
    "soft_face",
    "mould",
    "leak",
    "cap_stuck",
    "cap_cracked",
    "consistency",
    "smell",
    "short_measure",
]
LABEL_TESTS = [
    "pigment_information",
    "name_mismatch",
    "declared_behaviour",
    "batch_code",
    "hazard_information",
    "print_rub_off",
]
TRAITS = {
    "opacity",
    "wet_spread",
    "granulation",
    "flocculation",
    "separation",
    "staining",
    "salt",
    "drying_shift",
    "backruns",
    "gradation_steps",
    "dry_brush",
    "dry_finish",
    "hue_beside_peers",
    "brightness_beside_peers",
}  # position, not merit


def test_the_scales_hold_what_testers_ask_for():
    """Sheet, pack and label tests are there, what takes months, and three short scales for other media."""
    assert list(RUBRICS["watercolour"].criteria) == SHEET_TESTS
    assert list(RUBRICS["lasting"].criteria) == LASTING_TESTS
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
    assert {key for key, criterion in sheet.items() if criterion.nature is Nature.TRAIT} == TRAITS
    for _, criterion in CRITERIA:
        assert (criterion.fault_line is None) == (criterion.nature is Nature.TRAIT) == (criterion.severity is None)


def test_packs_and_labels_offer_grades_that_can_be_told_apart():
    """Most offer 0, 1, 3 and 5; a tube that needs a key stands between a plug and one that must be cut."""
    others = {
        criterion.key: criterion.grades
        for name in ("packaging", "label")
        for criterion in RUBRICS[name].criteria.values()
        if criterion.anchors and criterion.grades != (0, 1, 3, 5)
    }
    assert others == {"stiff_tube": (0, 1, 2, 3, 5), "name_mismatch": (0, 3, 5)}


def test_severities_of_the_trade():
    """Mould is critical, missing hazard words never are; what makes paint unfit is major; nuisances are minor."""
    severity = {
        c.key: c.severity for name in ("watercolour", "packaging", "label") for c in RUBRICS[name].criteria.values()
    }
    assert [key for key, found in severity.items() if found is Severity.CRITICAL] == ["mould"]
    major = ["wash_faintness", "laydown_count", "cracked", "stiff_tube", "parted_binder", "leak"]
    assert {severity[key] for key in major} == {Severity.MAJOR}
    assert {severity[key] for key in ("wrapper_adhesion", "loose_in_pan", "batch_code")} == {Severity.MINOR}


def test_places_and_stages():
    """Packs are judged at unpacking, sheets on the bench at the stage that their way of testing names."""
    assert {c.seen_at for c in RUBRICS["packaging"].criteria.values()} == {Occasion.UNPACKING}
    sheet = RUBRICS["watercolour"].criteria
    assert {c.seen_at for c in sheet.values()} == {Occasion.BENCH}
    day_later = {key for key, criterion in sheet.items() if criterion.stage is StageName.AFTER_24H}
    assert day_later == {"staining", "rub_off_weighted", "tack", "glazing_pick_up"}
    for key in day_later:
        assert "24 h" in sheet[key].look
    wet = [key for key, criterion in sheet.items() if criterion.stage is StageName.WET]
    assert wet == ["rewetting_in_fives", "froth_amount", "froth_time", "laydown_count", "wet_spread"]
    months = RUBRICS["lasting"].stage_names
    assert [stage.hours for stage in RUBRICS["lasting"].stages] == [24 * days for days in (28, 91, 365)]
    assert tuple(dict.fromkeys(one.stage for one in RUBRICS["lasting"].criteria.values())) == months
    assert RUBRICS["pencil"].criteria["bloom"].stage == "after 4 weeks"


@EACH
def test_every_criterion_can_be_carried_out(name, criterion):
    """Each says what is looked at, what it takes and how long; what is judged on a sheet, also what is put down."""
    assert criterion.look
    assert criterion.minutes is not None
    assert 0.5 <= criterion.minutes <= 10
    assert criterion.tools
    laid = criterion.seen_at is Occasion.BENCH and not criterion.names_in_view and criterion.key != "core_breaks"
    assert bool(criterion.put_down) == laid
    for step in (*criterion.put_down, criterion.look):
        assert re.fullmatch(r"[A-Z].+\.", step)


VAGUE = re.compile(r"\b(full|middle)[ -]strength\b")


@EACH
def test_strengths_are_defined_where_they_are_used(name, criterion):
    """Wherever a text asks for full or middle strength, its file says what that is, by weight or volume."""
    for found in VAGUE.finditer(criterion.how.lower()):
        assert re.search(r"\d", RUBRICS[name].terms[f"{found[1]} strength"]) or "says it" in criterion.terms[found[0]]


def test_amounts_stand_where_paint_is_laid():
    """Each wash, coat, band, pool or drop says its size and its volume."""
    sheet = RUBRICS["watercolour"].criteria
    laid = [
        step
        for one in sheet.values()
        for step in one.put_down
        if re.match(r"Lay (a|one) (wash|band|pool|swatch)", step)
    ]
    assert len(laid) >= 8
    for step in laid:
        assert re.search(r"\d+ by \d+ mm", step)
        assert re.search(r"0\.\d\d ml", step)


def test_one_key_means_one_scale():
    """No two files share a key: findings count by key, and a coat of gouache is no pan of watercolour."""
    keys = [key for one in RUBRICS.values() for key in one.criteria]
    assert len(keys) == len(set(keys))


def test_causes_that_are_shared():
    """Faintness and tinting strength tell of one cause, as froth and its time do, and bubbles and their rings."""
    sheet = RUBRICS["watercolour"]
    pairs = [("wash_faintness", "tinting_ratio"), ("froth_amount", "froth_time"), ("laydown_count", "laydown_rings")]
    for one, other in pairs:
        assert sheet.sharing(one) == (other,)
        assert sheet.sharing(other) == (one,)
    assert sheet.sharing("granulation") == ()


RENEWED = {
    "stiff_tube": "dried_tube",
    "parted_binder": "separated_binder",
    "leak": "leaking_cap",
    "name_mismatch": "label_mismatch",
}
OLDER_LABEL = """\
rubric: label
title: Label
about: As it was.
formats: [tube]
criteria:
  label_mismatch:
    title: Label mismatch
    how: Compare.
    kind: grade
    nature: fault
    seen_at: unpacking
    anchors:
      0: A traditional name with its own pigments alone, or a substitute that is declared.
      1: A fancy name with the pigments shown.
      3: A traditional name on another pigment, or with one beside its own, and no substitute declared.
      5: Name, Colour Index name, number or chemical words contradict each other.
    source: our proposal
    fault_line: {grade: 3, severity: major, source: our proposal}
"""


def older_rubrics() -> list[rubric.Rubric]:
    """Return the rubrics as 0.1.0 shipped them."""
    kept = Path(__file__).parents[1] / "ledger" / "version_0_1_0" / "folder" / "rubric_text.csv"
    with kept.open(encoding="utf-8", newline="") as file:
        return [rubric.parse(row["text"], row["key"]) for row in csv.DictReader(file)]


def test_what_counts_on_under_a_new_key():
    """Four older keys count on, where the sentence of the fault line is the old one; all others begin anew."""
    found = {criterion.continues: criterion.key for _, criterion in CRITERIA if criterion.continues}
    assert found == {old: new for new, old in RENEWED.items()}
    older = [*older_rubrics(), rubric.parse(OLDER_LABEL, "label")]
    joined = continued([*RUBRICS.values(), *older])
    assert {key: newer for (_, key), newer in joined.items()} == found
    assert {scale[0] for scale in joined} == {one.hash for one in older if one.key in ("packaging", "label")}


@EACH
def test_sources_are_named(name, criterion):
    """A public page is named by title and year, a standard by its number; a bare surname is no source."""
    remarks = [*criterion.hints, *criterion.cautions]
    for source in (criterion.source, criterion.fault_source or "", *(remark.source for remark in remarks)):
        assert not source.startswith("seen in a public page") or re.search(r": .+\d|: .{25,}", source)


MEASURED = [criterion for _, criterion in CRITERIA if criterion.kind is Kind.READING and criterion.reading.limits]


@pytest.mark.parametrize("criterion", MEASURED, ids=lambda criterion: criterion.key)
def test_limits_and_anchors_say_the_same(criterion):
    """Where a reading or a count fixes the grade, the numbers of its limits stand in the sentences."""
    sentences = " ".join(criterion.anchors.values())
    numbers = {float(number) for number in re.findall(r"\d+(?:\.\d+)?", sentences)}
    assert {limit for limit in criterion.reading.limits if limit} <= numbers


def test_the_net_content_steps_are_the_directives():
    """Directive 76/211/EEC annex I (seen in a summary): 9 % tolerable from 5 to 50 ml, none beyond twice that."""
    assert RUBRICS["packaging"].criteria["short_measure"].reading.limits == (0, 9, 18)


def test_formats_prove_that_the_code_knows_no_paint():
    """The same code reads scales for tubes and pans, bottles and cartridges, and pencils with wood or without."""
    assert RUBRICS["ink"].formats == (Format.BOTTLE, "cartridge")
    assert RUBRICS["pencil"].formats == (Format.PENCIL, "woodless pencil")
    assert RUBRICS["packaging"].criteria["wrapper_adhesion"].formats == (
        Format.HALF_PAN,
        Format.FULL_PAN,
        Format.STICK,
    )
    assert RUBRICS["packaging"].criteria["stiff_tube"].formats == (Format.TUBE,)


def test_cautions_stand_where_work_can_hurt():
    """Dust, mould, hazard words and public accusation each carry a caution that defers to those who decide."""
    sheet, pack, label = (RUBRICS[name] for name in ("watercolour", "packaging", "label"))
    everywhere = " ".join(str(caution) for caution in sheet.cautions)
    assert "scrape" in everywhere
    for one in RUBRICS.values():
        laws = [caution for caution in one.cautions if "safety data sheet and local law win" in str(caution)]
        assert len(laws) == 1
        texts = [caution.text for caution in (*one.cautions, *(c for k in one.criteria.values() for c in k.cautions))]
        assert len(texts) == len(set(texts))
    for name, word in {"gouache": "lips", "ink": "flames", "pencil": "blade"}.items():
        assert word in " ".join(str(caution) for caution in RUBRICS[name].cautions)
    for word in ("dust when they are weighed", "Cut away from the hand", "oversensitive"):
        assert word in everywhere
    assert "sniff" in str(pack.criteria["mould"].cautions[0])
    assert "laboratory" in str(label.criteria["name_mismatch"].cautions[0])
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


def test_the_guide_lists_every_criterion_as_the_files_say_it():
    """The page of the guide is the one that is made from the files, and its blocks fit a terminal."""
    text = PAGE.read_text(encoding="utf-8")
    assert text == page(), "python -m tests.criteria_page writes it anew"
    assert max(map(len, (line for line in text.splitlines() if line.startswith("    ")))) <= WIDTH
    assert all(f"    {criterion.key}: {criterion.title}" in text for _, criterion in CRITERIA)
