"""YAML from strangers: either a small tree with lines, or one line that says what is wrong."""

import tracemalloc

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import MESSAGE_LIMIT, BadInput
from qcledger.rubric.strict_yaml import MAX_BYTES, MAX_DEPTH, MAX_NODES, Items, Node, Scalar, read

LAUGHS = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{name}: &{name} [{', '.join([f'*{last}'] * 9)}]\n" for last, name in zip("abcdefg", "bcdefgh", strict=True)
)

HOSTILE = {
    # name: (text, line of the fault, words of the message)
    "billion laughs": (LAUGHS, 1, "anchor"),
    "alias": ("a: 1\nb: *a", 2, "alias"),
    "anchor": ("a: &x 1", 1, "anchor"),
    "anchor on a key": ("&x a: 1", 1, "anchor"),
    "anchor on a mapping": ("a: 1\nb: &x\n  c: 1", 2, "anchor"),
    "anchor on a list": ("a: &x [1]", 1, "anchor"),
    "merge key": ("a: 1\n<<: {b: 2}", 2, "written out"),
    "quoted merge key": ('"<<": {b: 2}', 1, "written out"),
    "local tag": ("a: !x 1", 1, "tags"),
    "python tag": ("a: !!python/object/apply:os.system [ls]", 1, "tags"),
    "standard tag": ("a: !!str 1", 1, "tags"),
    "verbatim tag": ("a: !<tag:yaml.org,2002:int> 1", 1, "tags"),
    "bare tag": ("a: ! 1", 1, "tags"),
    "tag on a list": ("a: !!set {b, c}", 1, "tags"),
    "tag directive": ("%TAG ! tag:x,2000:\n---\na: 1", None, "directive"),
    "version directive": ("%YAML 1.1\n---\na: 1", None, "directive"),
    "doubled key": ("a: 1\nb: 2\na: 3", 3, "again (first on line 1)"),
    "key doubled by quotes": ("1: x\n'1': y", 2, "again"),
    "list as a key": ("[a, b]: 1", 1, "as a key"),
    "mapping as a key": ("? {a: b}\n: 1", 1, "as a key"),
    "empty key": ("{'': 1}", 1, "written out"),
    "missing key": (": 1", 1, "YAML"),
    "too deep, flow": ("[" * 100_000, 1, f"depth {MAX_DEPTH + 1}"),
    "too deep, block": ("\n".join(" " * n + "a:" for n in range(200)), MAX_DEPTH, f"depth {MAX_DEPTH + 1}"),
    "too many values": ("- 1\n" * (MAX_NODES + 1), MAX_NODES, f"at most {MAX_NODES}"),
    "too many pairs": ("".join(f"k{n}: 1\n" for n in range(MAX_NODES)), MAX_NODES // 2, f"at most {MAX_NODES}"),
    "too large": ("# " + "x" * MAX_BYTES, None, f"at most {MAX_BYTES} bytes"),
    "too large in bytes": ("# " + "é" * (MAX_BYTES // 2), None, f"at most {MAX_BYTES} bytes"),
    "escape character": ("a: \x1b[31mred", 1, "U+001B"),
    "escape written as an escape": ('a: "\\x1b[31mred"', 1, "U+001B"),
    "null character": ("a: 1\nb: \x00", 2, "U+0000"),
    "null written as an escape": ('a: "\\0"', 1, "U+0000"),
    "next line character": ("a: \x85b", 1, "U+0085"),
    "line separator": ("a: \u2028b", 1, "U+2028"),
    "right to left": ("a: 1\n\nb: \u202egnp", 3, "U+202E"),
    "right to left in a key": ('"\\u202ea": 1', 1, "U+202E"),
    "zero width space": ("a: \u200bb", 1, "U+200B"),
    "tag characters": ("a: b\U000e0041", 1, "U+E0041"),
    "byte order mark inside": ("a: \ufeffb", 1, "U+FEFF"),
    "lone surrogate": ("a: \ud800", 1, "U+D800"),
    "surrogate written as an escape": ('a: "\\ud800"', 1, "U+D800"),
    "escape past Unicode (ValueError)": ('a: "\\U00110000"', 1, "YAML"),
    "escape past C (OverflowError)": ('a: "\\UFFFFFFFF"', 1, "YAML"),
    "old Mac line ends": ("a: 1\rb: 2", 1, "U+000D"),
    "two documents": ("a: 1\n---\nb: 2", 2, "one document"),
    "nothing": ("", 1, "a YAML mapping"),
    "only a comment": ("# a", 1, "a YAML mapping"),
    "open bracket": ("a: [1, 2", 1, "YAML"),
    "open quote": ('a: 1\nb: "x', 2, "YAML"),
    "tab for blanks": ("a:\n\tb: 1", 2, "YAML"),
    "two colons": ("a: b: c", 1, "YAML"),
    "bad indentation": ("a:\n  b: 1\n c: 2", 3, "YAML"),
    "stray percent": ("a: %x", 1, "YAML"),
    "reserved sign": ("a: @x", 1, "YAML"),
}


@pytest.mark.parametrize("case", HOSTILE, ids=str)
def test_hostile_text_is_refused_in_one_line(case):
    """Each trap is refused with file, line, what was found and what is allowed, within 200 characters."""
    text, line, words = HOSTILE[case]
    with pytest.raises(BadInput) as caught:
        read(text, "own.yaml")
    message = caught.value.line()
    assert len(message) <= MESSAGE_LIMIT
    assert message.isprintable()
    assert words in message
    assert message.startswith("own.yaml" if line is None else f"own.yaml line {line}: ")
    assert "; allowed: " in message


def test_enough_traps():
    """At least 36 hostile texts are tried, as the project's reliability bar asks."""
    assert len(HOSTILE) >= 36


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("NO", "NO"),
        ("no", "no"),
        ("Off", "Off"),
        ("True", "True"),
        ("012", "012"),
        ("0o14", "0o14"),
        ("0x1F", "0x1F"),
        ("1_000", "1_000"),
        ("1:30", "1:30"),
        ("1e3", "1e3"),
        (".5", ".5"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("2026-11-25", "2026-11-25"),
        ("=", "="),
        ("~", "~"),
        ("9999999999999999", "9999999999999999"),
        ("'12'", "12"),
        ('"true"', "true"),
        ("12", 12),
        ("-3", -3),
        ("0", 0),
        ("0.90", 0.9),
        ("-2.5", -2.5),
        ("true", True),
        ("false", False),
        ("null", None),
        ("", None),
    ],
)
def test_only_plain_numbers_and_constants_are_not_text(written, meant):
    """What other readers turn into booleans, octals, base-60 numbers or dates stays the text it is."""
    node = read(f"a: {written}", "own.yaml")
    value = node.items["a"].value
    assert value == meant
    assert type(value) is type(meant)


def test_lines_are_kept():
    """Every node and every key knows its line, counted from 1, for LF and CR LF as an editor counts."""
    node = read("# head\n\na: 1\nb:\n  - x\n  - {c: y}\n", "own.yaml")
    assert node.lines == {"a": 3, "b": 4}
    assert [item.line for item in node.items["b"].items] == [5, 6]


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text):
    """Whatever is written is read or refused as bad input; nothing else is raised."""
    _read_or_refuse(text)


TOKENS = st.sampled_from(
    ["a", ": ", "- ", "\n", "  ", '"', "'", "[", "]", "{", "}", ",", "&x ", "*x", "!t ", "!<", "%YAML 1.", "9" * 40,
     "\\U", "FFFFFFFF", "\\x", "|", ">", "---", "...", "?", " #", "<<", "0", "@", "%TAG ! a", "\t", "|2\n", "!!%E9"]
)  # fmt: skip


@given(st.lists(TOKENS, max_size=30).map("".join))
def test_no_yaml_like_text_breaks_the_reader(text):
    """Texts made of YAML's own signs are read or refused as bad input; nothing else is raised."""
    _read_or_refuse(text)


def _refusal(text: str) -> str | None:
    """Return the line that refuses `text`, or None if it was read."""
    try:
        read(text, "own.yaml")
    except BadInput as error:
        return error.line()
    return None


def _read_or_refuse(text):
    message = _refusal(text)
    assert message is None or (message.startswith("own.yaml") and len(message) <= MESSAGE_LIMIT)


def _plain(node: Node) -> object:
    """Return a node as PyYAML would give it."""
    if isinstance(node, Scalar):
        return node.value
    if isinstance(node, Items):
        return [_plain(item) for item in node.items]
    return {key: _plain(item) for key, item in node.items.items()}


class _Dumper(yaml.SafeDumper):
    def ignore_aliases(self, data):
        """Write everything out, as our files must."""
        return True


WORDS = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_categories=["Cc", "Cs"]), max_size=20)
KEYS = WORDS.filter(lambda key: key not in ("", "<<"))
VALUES = st.recursive(
    WORDS | st.integers(-(10**15) + 1, 10**15 - 1) | st.integers(-9999, 9999).map(lambda n: n / 8)
    | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=20,
)  # fmt: skip


@given(st.dictionaries(KEYS, VALUES, max_size=5), st.sampled_from([True, False, None]))
def test_agrees_with_pyyaml_on_what_it_writes(data, flow):
    """Checked against the library PyYAML: what safe_dump writes of plain data is read back equal."""
    text = yaml.dump(data, Dumper=_Dumper, allow_unicode=True, default_flow_style=flow, sort_keys=False)
    assert _plain(read(text, "own.yaml")) == data


def test_no_trap_swells():
    """No trap makes the reader take more memory than a few copies of the largest file allowed."""
    tracemalloc.start()
    try:
        for case in ("billion laughs", "too deep, flow", "too many values", "too large"):
            assert _refusal(HOSTILE[case][0]) is not None
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 128 * MAX_BYTES
