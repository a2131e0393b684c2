"""Rubric files: what is read from them, and how wrong ones are refused."""

import dataclasses
from datetime import timedelta
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import rubric
from qcledger.errors import MESSAGE_LIMIT, BadInput
from qcledger.records import LabelVersion, columns
from qcledger.vocab import Format, Kind, Nature, Occasion, Severity, StageName

GOOD = """\
rubric: clay
title: Clay
about: Fired clay, seen from all sides.
formats: [stick]
cautions:
  - say: Mind the dust.
    source: from memory
criteria:
  crazing:
    title: Crazing
    how: Look at the glaze.
    kind: grade
    nature: fault
    seen_at: bench
    stage: dry
    half_steps: true
    anchors:
      0: No crack.
      1: Cracks seen with a lens.
      2: Cracks seen without.
    source: our proposal
    fault_line:
      grade: 1.5
      severity: major
      source: "from memory: an old book"
    conditions: [kiln, clay body]
    hints:
      - say: Ink shows cracks.
        source: common practice, no source
  ring:
    title: Ring when struck
    how: Strike it and count seconds.
    kind: reading
    nature: trait
    seen_at: unpacking
    reading:
      unit: s
      at_least: [3, 1]
      stop_at: 10
    anchors:
      0: Three seconds or more.
      3: One second or more, less than three.
      5: Less than one second.
    source: our proposal
  surface:
    title: Surface
    how: Look.
    kind: choice
    nature: trait
    seen_at: unpacking
    choices:
      matt: No reflection.
      glossy: The lamp is reflected.
    source: our proposal
"""


def _changed(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, f"{GOOD.count(old)} places"
    return GOOD.replace(old, new)


def test_a_file_becomes_frozen_criteria():
    """Every key of a file is found again in the rubric, in the order of the file; nothing can be changed."""
    clay = rubric.parse(GOOD, "clay.yaml")
    assert (clay.key, clay.title, clay.formats) == ("clay", "Clay", (Format.STICK,))
    assert list(clay.criteria) == ["crazing", "ring", "surface"]
    crazing = clay.criteria["crazing"]
    assert crazing.anchors == {0.0: "No crack.", 1.0: "Cracks seen with a lens.", 2.0: "Cracks seen without."}
    assert (crazing.fault_line, crazing.severity, crazing.fault_source) == (
        1.5,
        Severity.MAJOR,
        "from memory: an old book",
    )
    assert (crazing.kind, crazing.nature, crazing.seen_at) == (Kind.GRADE, Nature.FAULT, Occasion.BENCH)
    assert (crazing.stage, crazing.formats) == (StageName.DRY, (Format.STICK,))
    assert crazing.hints[0].source == "common practice, no source"
    ring = clay.criteria["ring"]
    assert ring.reading == rubric.Reading("s", (3.0, 1.0), rising=False, stop_at=10.0)
    with pytest.raises(dataclasses.FrozenInstanceError):
        crazing.title = "x"
    with pytest.raises(TypeError):
        crazing.anchors[0.0] = "x"
    with pytest.raises(TypeError):
        clay.criteria["x"] = crazing


def test_a_file_may_say_what_is_done_on_the_piece():
    """True and false are kept as said; a file that says nothing, as all of before, reads on and keeps its hash."""
    for said in (True, False):
        text = _changed("half_steps: true", f"half_steps: true\n    on_the_piece: {str(said).lower()}")
        assert rubric.parse(text, "clay.yaml").criteria["crazing"].on_the_piece is said
    assert {one.on_the_piece for one in rubric.parse(GOOD, "clay.yaml").criteria.values()} == {None}


def test_a_file_may_part_what_is_put_down_from_what_is_looked_at():
    """Both halves are read with all that goes with them, and `how` tells the two in one."""
    more = """put_down: [Dip it in thin slip., Fire it.]
    look: Look at the glaze.
    minutes: 2.5
    tools: [kiln, lens]
    excuses: [no glaze]
    continues: crackle
    shares_cause: hot kiln"""
    text = _changed("how: Look at the glaze.", more).replace("how: Look.", "how: Look.\n    shares_cause: hot kiln")
    text = text.replace("title: Clay\n", "title: Clay\nterms: {thin slip: Clay in water., cone: A cone.}\n")
    clay = rubric.parse(text, "clay.yaml")
    crazing = clay.criteria["crazing"]
    assert crazing.put_down == ("Dip it in thin slip.", "Fire it.")
    assert crazing.how == "Dip it in thin slip. Fire it. Look at the glaze."
    assert (crazing.minutes, crazing.tools, crazing.excuses) == (2.5, ("kiln", "lens"), ("no glaze",))
    assert crazing.terms == {"thin slip": "Clay in water."}
    assert clay.terms.keys() == {"thin slip", "cone"}
    assert (crazing.continues, clay.sharing("crazing")) == ("crackle", ("surface",))
    assert clay.sharing("ring") == ()
    ring = clay.criteria["ring"]
    assert (ring.put_down, ring.look, ring.minutes, ring.continues) == ((), "", None, None)


def test_a_file_may_say_which_words_of_a_label_claim_something():
    """Words with the lowest or the highest grade that is as they say; a file without says nothing."""
    text = _changed(
        "half_steps: true", "half_steps: true\n    label_claims: [{words: [crack free, no cracks], to: 1}]"
    )
    (one,) = rubric.parse(text, "clay.yaml").criteria["crazing"].label_claims
    assert (one.words, one.says(1), one.says(1.5)) == (("crack free", "no cracks"), True, False)
    for wrong in ("to: 6", "from: 3, to: 2", "from: 0"):
        text = _changed("half_steps: true", f"half_steps: true\n    label_claims: [{{words: [x], {wrong}}}]")
        with pytest.raises(BadInput, match="from or to a grade"):
            rubric.parse(text, "clay.yaml")


def test_a_fact_of_a_label_is_seen_at_unpacking():
    """What a label says is read when it is unpacked: on the bench it is refused, and so is a word of no list."""
    for said, found in (("words", "label_fact words"), ("smell", "smell")):
        text = _changed("half_steps: true", f"half_steps: true\n    label_fact: {said}")
        with pytest.raises(BadInput) as refused:
            rubric.parse(text, "clay.yaml")
        assert found in str(refused.value)


def test_the_version_is_the_hash_of_the_text():
    """The version is SHA-256 of the UTF-8 text, the same for LF and CR LF, and changes with any letter."""
    clay = rubric.parse(GOOD, "clay.yaml")
    assert clay.hash == sha256(GOOD.encode()).hexdigest()
    assert rubric.parse(GOOD.replace("\n", "\r\n"), "clay.yaml").hash == clay.hash
    assert rubric.parse(GOOD.replace("No crack.", "No crack!"), "clay.yaml").hash != clay.hash


def test_the_kept_text_gives_the_same_rubric():
    """Reading a rubric's own text again gives an equal rubric, as a ledger that keeps the text by hash needs."""
    clay = rubric.parse(GOOD.replace("\n", "\r\n"), "clay.yaml")
    assert rubric.parse(clay.text, "ledger") == clay


WRONG = {
    # name: (text, the text on the line that must be named, words that must be in the message)
    "not a mapping": ("- a", "- a", ["a list", "a mapping"]),
    "unknown key": (_changed("title: Clay\n", "title: Clay\nweight: 3\n"), "weight", ["key weight", "rubric, title"]),
    "unknown key of a criterion": (_changed("stage: dry", "when: dry"), "when", ["key when", "title, how, kind"]),
    "unknown key of a reading": (_changed("stop_at: 10", "halt: 10"), "halt", ["key halt", "unit, up_to, at_least"]),
    "missing key": (_changed("title: Clay\n", ""), "rubric: clay", ["no key title"]),
    "missing how": (_changed("    how: Look.\n", ""), "surface:", ["neither how nor look", "how alone"]),
    "how and look": (_changed("how: Look.", "how: Look.\n    look: Look."), "surface:", ["how and look", "one of"]),
    "put down and never looked at": (
        _changed("how: Look at the glaze.", "how: Look at the glaze.\n    put_down: [Glaze it.]"),
        "crazing:",
        ["put_down without look"],
    ),
    "put down at unpacking": (
        _changed("how: Strike it and count seconds.", "put_down: [Lay it.]\n    look: Strike it."),
        "ring:",
        ["put_down at unpacking"],
    ),
    "names at unpacking": (
        _changed("how: Look.", "how: Look.\n    names_in_view: true"),
        "surface:",
        ["names_in_view"],
    ),
    "no minutes": (_changed("how: Look.", "how: Look.\n    minutes: 0"), "minutes", ["over 0, at most 240"]),
    "minutes in words": (_changed("how: Look.", "how: Look.\n    minutes: two"), "minutes", ["a number"]),
    "a tool twice": (_changed("how: Look.", "how: Look.\n    tools: [lens, lens]"), "tools", ["each value once"]),
    "continues a key that is still there": (
        _changed("how: Look.", "how: Look.\n    continues: ring"),
        "surface:",
        ["continues ring", "no longer has"],
    ),
    "a cause of its own": (
        _changed("how: Look.", "how: Look.\n    shares_cause: hot kiln"),
        "surface:",
        ["shares_cause hot kiln", "another criterion"],
    ),
    "a term that means nothing": (
        _changed("title: Clay\n", "title: Clay\nterms: {slip: 7}\n"),
        "slip",
        ["'7'", "quote it"],
    ),
    "number for a title": (_changed("title: Clay", "title: 12"), "title: 12", ["'12'", "quote it"]),
    "true for a title": (_changed("title: Clay", "title: true"), "title: true", ["'true'", "quote it"]),
    "empty title": (_changed("title: Clay", "title:"), "title:\n", ["nothing", "text"]),
    "long title": (_changed("title: Clay", f"title: {'x' * 99}"), "xxx", ["1 to 80"]),
    "list for a text": (_changed("how: Look.", "how: [Look.]"), "[Look.]", ["a list", "text"]),
    "capital key": (_changed("rubric: clay", "rubric: Clay"), "rubric: Clay", ["'Clay'", "small letters"]),
    "criterion key with a blank": (
        _changed("  ring:", "  ring tone:"),
        "ring tone",
        ["'ring tone'", "small letters"],
    ),
    "a usual format misspelt": (_changed("[stick]", "[Sticks]"), "Sticks", ["'Sticks'", "allowed: stick"]),
    "capitals in a format": (_changed("[stick]", "[Brick]"), "Brick", ["'Brick'", "small letters"]),
    "two formats in one": (_changed("[stick]", '["brick, tile"]'), "brick", ["'brick, tile'", "without comma"]),
    "long format": (_changed("[stick]", f"[{'b' * 41}]"), "bbb", ["1 to 40"]),
    "number as a format": (_changed("[stick]", "[7]"), "[7]", ["'7'", "quote it"]),
    "doubled format": (_changed("[stick]", "[stick, stick]"), "stick, stick", ["'stick'", "once"]),
    "no formats": (_changed("[stick]", "[]"), "[]", ["a list", "1 to"]),
    "yes for a piece": (
        _changed("half_steps: true", "half_steps: true\n    on_the_piece: yes"),
        "yes",
        ["'yes'", "true or false"],
    ),
    "NO for a flag": (_changed("half_steps: true", "half_steps: NO"), "NO", ["'NO'", "true or false"]),
    "unknown kind": (_changed("kind: grade", "kind: stars"), "stars", ["'stars'", "grade, choice, count, reading"]),
    "older notes as a place": (_changed("seen_at: bench", "seen_at: older notes"), "older", ["bench, unpacking"]),
    "unknown stage": (_changed("stage: dry", "stage: moist"), "moist", ["'moist'", "wet, dry, after 24 h"]),
    "stage of another file": (
        _changed("title: Clay\n", "title: Clay\nstages: [{name: fired, after: 2 d}]\n"),
        "stage: dry",
        ["'dry'", "allowed: fired"],
    ),
    "no stages": (_changed("title: Clay\n", "title: Clay\nstages: []\n"), "stages", ["a list", "1 to 20"]),
    "a usual stage misspelt": (
        _changed("title: Clay\n", "title: Clay\nstages: [after 24h]\n"),
        "after 24h",
        ["allowed: after 24 h"],
    ),
    "stage twice": (
        _changed("title: Clay\n", "title: Clay\nstages: [dry, {name: dry, after: 9 h}]\n"),
        "stages",
        ["once"],
    ),
    "stages that run backwards": (
        _changed("title: Clay\n", "title: Clay\nstages:\n- {name: fired, after: 2 d}\n- dry\n"),
        "- dry",
        ["dry after 4 h", "48 h or later"],
    ),
    "unknown key of a stage": (
        _changed("title: Clay\n", "title: Clay\nstages: [{name: dry, due: 4 h}]\n"),
        "due: 4 h",
        ["key due", "name, after"],
    ),
    "a stage without its time": (
        _changed("title: Clay\n", "title: Clay\nstages: [{name: dry}]\n"),
        "name: dry",
        ["no key after"],
    ),
    "no time": (
        _changed("title: Clay\n", "title: Clay\nstages: [{name: dry, after: soon}]\n"),
        "soon",
        ["'soon'", "20 min, 4 h or 7 d"],
    ),
    "unknown key of a label": (
        _changed("title: Clay\n", "title: Clay\nlabel: [{key: cone, title: Cone, unit: C}]\n"),
        "cone",
        ["key unit", "key, title, words"],
    ),
    "label key twice": (
        _changed("title: Clay\n", "title: Clay\nlabel:\n- {key: cone, title: Cone}\n- {key: cone, title: Kiln}\n"),
        "- {key: cone, title: Kiln}",
        ["'cone'", "each key once"],
    ),
    "label key with a blank": (
        _changed("title: Clay\n", "title: Clay\nlabel: [{key: firing cone, title: Cone}]\n"),
        "firing cone",
        ["small letters"],
    ),
    "bench without stage": (_changed("    stage: dry\n", ""), "crazing:", ["crazing: stage", "stage on the bench"]),
    "stage at unpacking": (
        _changed("kind: reading", "kind: reading\n    stage: wet"),
        "ring:",
        ["ring: stage", "none else"],
    ),
    "grade 6": (_changed("5: Less", "6: Less"), "6: Less", ["grade 6", "0, 1, 2, 3, 4, 5"]),
    "octal grade": (_changed("5: Less", "05: Less"), "05: Less", ["grade 05"]),
    "half anchor": (_changed("5: Less", "4.5: Less"), "4.5: Less", ["grade 4.5"]),
    "anchors without 0": (_changed("      0: No crack.\n", ""), "1: Cracks", ["grades 1, 2", "0 and"]),
    "anchors out of order": (
        _changed("2: Cracks", "5: x\n      2: Cracks"),
        "0: No",
        ["grades 0, 1, 5, 2", "rising"],
    ),
    "true for a number": (_changed("stop_at: 10", "stop_at: true"), "stop_at", ["'true'", "a number"]),
    "quoted nothing": (_changed("title: Clay", 'title: ""'), 'title: ""', ["nothing", "1 to 80"]),
    "one anchor": (
        _changed("      1: Cracks seen with a lens.\n      2: Cracks seen without.\n", ""),
        "0: No",
        ["at least one more"],
    ),
    "anchor without a sentence": (_changed("0: No crack.", "0:"), "0:\n", ["nothing", "text"]),
    "untagged source": (_changed('"from memory: an old book"', "hearsay"), "hearsay", ["'hearsay'", "our proposal"]),
    "source without its tag": (_changed('"from memory: an old book"', "an old book"), "an old book", ["from memory"]),
    "hint without source": (
        _changed("        source: common practice, no source\n", ""),
        "say: Ink",
        ["no key source"],
    ),
    "two ways to read": (
        _changed("at_least: [3, 1]", "at_least: [3, 1]\n      up_to: [1, 3]"),
        "unit: s",
        ["either"],
    ),
    "limits out of order": (_changed("[3, 1]", "[1, 3]"), "unit: s", ["falling"]),
    "limits equal": (_changed("[3, 1]", "[3, 3]"), "[3, 3]", ["once"]),
    "too few limits": (_changed("[3, 1]", "[3]"), "ring:", ["1 limits for 3 grades", "2 limits"]),
    "expression for a limit": (_changed("[3, 1]", '["> 3", "< 1"]'), "> 3", ["'> 3'", "a number"]),
    "negative limit": (_changed("[3, 1]", "[3, -1]"), "[3, -1]", ["'-1'", "from 0 up"]),
    "stop before the last limit": (_changed("stop_at: 10", "stop_at: 2"), "unit: s", ["stop_at 2", "no earlier"]),
    "half steps over a gap": (
        _changed("kind: reading", "kind: reading\n    half_steps: true"),
        "ring:",
        ["half_steps"],
    ),
    "trait with a line": (
        _changed("nature: fault", "nature: trait"),
        "crazing:",
        ["fault_line 1.5", "none for a trait"],
    ),
    "fault without a line": (
        _changed(
            "nature: trait\n    seen_at: unpacking\n    reading", "nature: fault\n    seen_at: unpacking\n    reading"
        ),
        "ring:",
        ["fault_line None", "a fault_line for a fault"],
    ),
    "fault line at 0": (_changed("grade: 1.5", "grade: 0"), "crazing:", ["over 0"]),
    "fault line not offered": (_changed("grade: 1.5", "grade: 4"), "crazing:", ["offered grade"]),
    "choice with anchors": (
        _changed("    choices:\n", "    anchors: {0: a, 1: b}\n    choices:\n"),
        "surface:",
        ["anchors"],
    ),
    "choices for a grade": (_changed("kind: choice", "kind: grade"), "surface:", ["choices"]),
    "choice as a fault": (
        _changed("kind: choice\n    nature: trait", "kind: choice\n    nature: fault"),
        "surface:",
        ["nature fault"],
    ),
    "one choice": (_changed("      matt: No reflection.\n", ""), "glossy", ["two choices"]),
    "long choice": (_changed("matt:", f"{'m' * 30}:"), "mmm", ["24"]),
    "reading without its unit": (_changed("      unit: s\n", ""), "at_least", ["no key unit"]),
    "count without reading": (_changed("kind: grade", "kind: count"), "crazing:", ["count without reading"]),
    "reading for a choice": (
        _changed("    choices:\n", "    reading: {unit: s}\n    choices:\n"),
        "surface:",
        ["no reading"],
    ),
    "format of another rubric": (
        _changed("stage: dry", "stage: dry\n    formats: [tube]"),
        "formats: [tube]",
        ["'tube'", "allowed: stick"],
    ),
    "no criteria": (GOOD.partition("criteria:")[0] + "criteria: {}\n", "criteria:", ["at least one criterion"]),
    "unknown severity": (
        _changed("severity: major", "severity: grave"),
        "grave",
        ["'grave'", "critical, major, minor"],
    ),
}


@pytest.mark.parametrize("case", WRONG, ids=str)
def test_a_wrong_rubric_is_refused_with_its_line(case):
    """File, line, what was found and what is allowed are said in one line."""
    text, marker, words = WRONG[case]
    line = text[: text.index(marker)].count("\n") + 1
    with pytest.raises(BadInput) as caught:
        rubric.parse(text, "clay.yaml")
    message = caught.value.line()
    assert len(message) <= MESSAGE_LIMIT
    assert message.startswith(f"clay.yaml line {line}: found ")
    for word in words:
        assert word in message


def _refusal(text):
    """Return the line that refuses `text`, or None if it was read."""
    try:
        rubric.parse(text, "clay.yaml")
    except BadInput as error:
        return error.line()
    return None


LINES = GOOD.splitlines(keepends=True)


@given(st.data())
def test_no_edit_breaks_the_parser(data):
    """A good file with lines dropped, doubled or overwritten is read or refused as bad input, never more."""
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        edit = data.draw(st.sampled_from(["", lines[place] * 2, "x: [\n", "  - 1\n", "    grade: 9.9\n"]) | st.text())
        lines[place] = edit
    message = _refusal("".join(lines))
    assert message is None or message.startswith("clay.yaml")


def test_files_are_read_as_utf_8_with_or_without_a_mark(tmp_path):
    """A byte order mark, as some editors write one, changes neither content nor version."""
    plain, marked = tmp_path / "a.yaml", tmp_path / "b.yaml"
    plain.write_text(GOOD, encoding="utf-8")
    marked.write_text(GOOD, encoding="utf-8-sig")
    assert rubric.load(plain).hash == rubric.load(marked).hash == sha256(GOOD.encode()).hexdigest()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (GOOD.encode("utf-16"), ["clay.yaml line 1", "UTF-8"]),
        (b"rubric: clay\ntitle: caf\xe9\n", ["clay.yaml line 2", "0xe9", "UTF-8"]),
        (b"x" * 300_000, ["clay.yaml", "262144 bytes"]),
        (b"x" + "é".encode() * 200_000, ["clay.yaml", "262144 bytes"]),
        (b"", ["clay.yaml line 1", "nothing", "mapping"]),
    ],
)
def test_files_that_are_no_text_are_refused(tmp_path, content, words):
    """Other encodings, oversized and empty files are refused in one line."""
    path = tmp_path / "clay.yaml"
    path.write_bytes(content)
    with pytest.raises(BadInput) as caught:
        rubric.load(path)
    for word in words:
        assert word in caught.value.line()


def test_a_missing_file_is_refused(tmp_path):
    """A file that is not there, or a folder, is refused in one line."""
    for path in (tmp_path / "none.yaml", tmp_path):
        with pytest.raises(BadInput) as caught:
            rubric.load(path)
        assert str(path)[:20] in caught.value.line()


OWN = _changed(
    "formats: [stick]\n",
    """formats: [stick, wet block]
stages:
  - wet
  - {name: leather hard, after: 90 min}
  - dry
  - {name: after a week, after: 7 d}
label:
  - {key: cone, title: firing cone, words: "as printed: 04, 6"}
  - {key: grog, title: grog}
""",
).replace("stage: dry", "stage: after a week\n    formats: [wet block]")


def test_a_file_declares_formats_stages_and_what_a_label_carries():
    """Its own words stand beside the usual ones; a usual stage keeps its usual time where none is given."""
    clay = rubric.parse(OWN, "clay.yaml")
    assert clay.formats == ("stick", "wet block")
    assert [(stage.name, stage.hours) for stage in clay.stages] == [
        ("wet", 0),
        ("leather hard", 1.5),
        ("dry", 4),
        ("after a week", 168),
    ]
    assert clay.stage_names == tuple(stage.name for stage in clay.stages)
    assert clay.stages[-1].after == timedelta(days=7)
    assert [(part.key, part.title, part.words) for part in clay.label] == [
        ("cone", "firing cone", "as printed: 04, 6"),
        ("grog", "grog", ""),
    ]
    assert (clay.criteria["crazing"].stage, clay.criteria["crazing"].formats) == ("after a week", ("wet block",))
    assert clay.criteria["ring"].formats == clay.formats


def test_a_stage_of_its_own_may_have_no_time():
    """A plain name that is no usual one is a stage without an hour at which it is due."""
    clay = rubric.parse(_changed("title: Clay\n", "title: Clay\nstages: [dry, fired]\n"), "clay.yaml")
    assert [(stage.name, stage.after) for stage in clay.stages] == [("dry", timedelta(hours=4)), ("fired", None)]


def test_a_file_that_declares_nothing_has_the_usual_words():
    """Left out, stages and label are those that every file had before there were such lists."""
    clay = rubric.parse(GOOD, "clay.yaml")
    assert clay.stage_names == tuple(StageName)
    assert [stage.hours for stage in clay.stages] == [0, 4, 24]
    assert {part.key for part in clay.label} <= {column.name for column in columns(LabelVersion)}


@pytest.mark.parametrize("text", [GOOD, OWN])
def test_declared_words_are_read_without_the_criteria(text):
    """What is declared is the same as in the whole rubric, wherever in the file the lists stand."""
    whole = rubric.parse(text, "clay.yaml")
    head, criteria = text.split("criteria:\n")
    turned = "criteria:\n" + criteria + head
    broken = text.replace("kind: grade", "kind: stars")
    for content in (text, text.replace("\n", "\r\n"), turned, broken):
        found = rubric.declared(content, "clay.yaml")
        assert (found.formats, found.stages, found.label) == (whole.formats, whole.stages, whole.label)
