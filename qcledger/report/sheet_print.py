"""Run sheets to print: HTML that any browser prints on A4 or US letter, without scripts and with nothing to load."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from html import escape
from typing import TYPE_CHECKING, Final

from qcledger.bench.facts import Facts
from qcledger.bench.laying import ACROSS, DOWN, of_sheet
from qcledger.bench.runsheet import RunSheet
from qcledger.report.sheet import about
from qcledger.text import one_line
from qcledger.vocab import GRADE_NOTE

if TYPE_CHECKING:
    from qcledger.records import Stage
    from qcledger.rubric import Criterion

GREYS: Final = 12
"""Fields of the grey strip, from white to black."""


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "A4"
    LETTER = "letter"


_STYLE: Final = """
@page { size: %s portrait; margin: 12mm; }
* { box-sizing: border-box; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
body { font: 10pt/1.3 serif; color: #000; background: #fff; margin: 0; }
section { break-after: page; }
section:last-child { break-after: auto; }
h1 { font-size: 13pt; margin: 0 0 2mm; }
p { margin: 0 0 1mm; }
p.caution { font-size: 8.5pt; }
table { border-collapse: collapse; width: 100%%; margin: 2mm 0 4mm; break-inside: auto; }
th, td { border: 0.2mm solid #777; padding: 0.5mm 1.5mm; text-align: left; height: 6mm; }
th { font-weight: normal; border-bottom-width: 0.5mm; }
thead { display: table-header-group; }
th.again { border: 0; font-weight: bold; }
.asked { display: grid; grid-template-columns: repeat(3, 1fr); gap: 1mm 4mm; margin: 2mm 0; }
.asked > span { border-bottom: 0.2mm solid #777; height: 8mm; font-size: 8.5pt; }
td.code { font: bold 11pt/1 monospace; white-space: nowrap; width: 18mm; }
td.number { text-align: right; width: 10mm; }
tr { break-inside: avoid; }
td.tick { width: 9mm; }
table.steps td, table.ladders td { font-size: 8pt; line-height: 1.2; vertical-align: top; height: auto; }
table.steps td:last-child { width: 40mm; font-size: 8pt; }
table.ladders td.title { width: 38mm; font-weight: bold; }
table.ladders span { margin-right: 1.5mm; }
tr.rest td { height: 4mm; border-left: 0; border-right: 0; font-style: italic; }
.cells { position: relative; display: grid; grid-template: repeat(8, 1fr) / repeat(3, 1fr); height: 225mm;
  padding: 5mm 5mm 5mm 13mm; }
.cells > .cell { border: 0.2mm dashed #777; padding: 1.5mm 2mm; font: bold 15pt monospace; }
.cells > .cell small { float: right; font: 7pt serif; }
.greys { position: absolute; left: 5mm; top: 9mm; bottom: 9mm; width: 6mm; display: flex; flex-direction: column; }
.greys i { flex: 1; }
.corner { position: absolute; width: 4mm; height: 4mm; border: 0 solid #000; }
.corner.a { left: 0; top: 0; border-width: 0.8mm 0 0 0.8mm; }
.corner.b { right: 0; top: 0; border-width: 0.8mm 0.8mm 0 0; }
.corner.c { left: 0; bottom: 0; border-width: 0 0 0.8mm 0.8mm; }
.corner.d { right: 0; bottom: 0; border-width: 0 2mm 2mm 0; }
.strips { display: grid; grid-template-columns: 1fr 1fr; gap: 2mm 6mm; }
.strip { border: 0.2mm dashed #777; display: flex; height: 14mm; break-inside: avoid; }
.strip > span { flex: 1; display: flex; align-items: center; justify-content: center; font: 12pt monospace; }
.strip > .code { border-right: 0.2mm dotted #000; font: bold 16pt monospace; transform: rotate(180deg); }
""".strip()


def printed(title: str, sections: Iterable[str], paper: Paper) -> str:
    """Return a page to print, of sections of HTML that is safe already, each on a sheet of paper of its own."""
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    head = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        f"<title>{_text(title)}</title>",
        f"<style>{_STYLE % paper}</style></head><body>",
    ]
    return "\n".join([*head, *(f"<section>{one}</section>" for one in sections), "</body></html>"]) + "\n"


def _text(text: str) -> str:
    return escape(one_line(text))


def _head(title: str, lines: Iterable[str]) -> str:
    return f"<h1>{_text(title)}</h1>" + "".join(f"<p>{_text(line)}</p>" for line in lines)


# The run sheet


def run_sheet(facts: Facts, stages: Sequence[RunSheet], paper: Paper) -> str:
    """Return a run sheet to fill with a pencil: what to mind and to put down, the stages, and cells.

    A stage is a table to fill, and what each grade of its criteria means. The cells, 3 x 8, carry what stands for
    each place. While the session is blind the sheet carries codes only.
    """
    title = f"Run sheet {facts.session.code}"
    worked = [sheet for sheet in stages if sheet.criteria]
    return printed(
        title,
        [_begin(title, facts, stages), *(_stage(title, facts, sheet) for sheet in worked), _cells(facts, stages[0])],
        paper,
    )


def _table(kind: str, title: str, heads: Sequence[str], rows: Iterable[str]) -> str:
    """Return a table whose title and heads stand on every page it runs over."""
    again = f'<tr><th class="again" colspan="{len(heads)}">{_text(title)}</th></tr>'
    named = f"<tr>{''.join(f'<th>{_text(head)}</th>' for head in heads)}</tr>" if any(heads) else ""
    return f'<table class="{kind}"><thead>{again}{named}</thead><tbody>{"".join(rows)}</tbody></table>'


def _begin(title: str, facts: Facts, stages: Sequence[RunSheet]) -> str:
    """Return what is read before the sheet begins: its facts, every caution once, and what the hand puts down."""
    rows = [
        f'<tr><td class="tick"></td><td class="number">{number}</td><td>{_text(one.step)}</td>'
        f"<td>{_text(', '.join(one.tests))}</td></tr>"
        for number, one in enumerate(of_sheet(stages), 1)
    ]
    steps = _table("steps", f"{title}: put down, in this order", ("done", "", "step", "for"), rows) if rows else ""
    told = [*about(facts), f"Paper: {facts.paper}"]
    return _head(f"{title}: before it begins", told) + _cautions(stages[0].cautions) + steps


def _stage(title: str, facts: Facts, sheet: RunSheet) -> str:
    """Return one stage: its conditions, the table to fill, and what its grades mean."""
    titles = [criterion.title for criterion in sheet.criteria.values()]
    order = "; ".join(f"{number} {name}" for number, name in enumerate(titles, 1))
    here = f"{title}: {sheet.stage}"
    rows = (_row(sheet, line, len(titles), rest=line in facts.rests) for line in range(len(sheet.lines)))
    heads = ("place", "", *(str(number) for number in range(1, len(titles) + 1)), "note")
    ladders = (_ladder(number, one) for number, one in enumerate(sheet.criteria.values(), 1))
    minded = dict.fromkeys(
        part for one in sheet.criteria.values() for part in sheet.to_mind.line(one).split("; ") if part
    )
    return (
        _head(here, [f"Grades: {GRADE_NOTE}. {order}"])
        + _cautions(["; ".join(minded)] if minded else [])
        + _room_for_conditions(facts, sheet.stage_row)
        + _table("grades", here, heads, rows)
        + _table("ladders", f"{here}, what the grades mean", ("", ""), ladders)
    )


def _ladder(number: int, one: "Criterion") -> str:
    """Return the row of a criterion: what each of its grades means, or its choices by their numbers."""
    line, words = one.fault_line, enumerate(one.choices, 1)
    told = [(f"{grade:g}", text, grade == line) for grade, text in one.anchors.items()] or [
        (str(place), f"{word}: {one.choices[word]}", False) for place, word in words
    ]
    steps = " ".join(
        f"<span><b>{name}</b>&nbsp;{_text(text)}{' (a fault from here on)' if is_line else ''}</span>"
        for name, text, is_line in told
    )
    return f'<tr><td class="title">{number} {_text(one.title)}</td><td>{steps}</td></tr>'


WHEN: Final = ("date", "begun at", "ended at")
"""What of every stage has room to be written, before its conditions."""
BESIDE: Final = {"lamp": ("lamp", "lux"), "temperature_c": ("temperature_c",), "humidity_pct": ("humidity_pct",)}
"""The fields of a stage that tell of a condition, where it is not the one of its own name alone."""
UNITS: Final = {"temperature_c": ", °C", "humidity_pct": ", %"}


def _room_for_conditions(facts: Facts, stage: "Stage | None") -> str:
    """Return a line to write on for each condition that is asked; what was noted before stands there."""
    named = {
        field: f"{title if field == condition else field}{UNITS.get(field, '')}"
        for condition, title in facts.way.titles.items()
        for field in BESIDE.get(condition, (condition,))
    }
    noted = {name: getattr(stage, field, None) for field, name in named.items()}
    lines = (
        _text(name if value is None else f"{name}: {value}")
        for name, value in [*((w, None) for w in WHEN), *noted.items()]
    )
    return f'<div class="asked">{"".join(f"<span>{line}</span>" for line in lines)}</div>'


def _cautions(cautions: Iterable[str]) -> str:
    return "".join(f'<p class="caution">! {_text(caution)}</p>' for caution in cautions)


def _row(sheet: RunSheet, line: int, criteria: int, *, rest: bool) -> str:
    asked = {place.criterion for place in sheet.places_of(line)}
    boxes = "".join(f"<td>{'' if key in asked else '&ndash;'}</td>" for key in sheet.criteria)
    before = f'<tr class="rest"><td colspan="{criteria + 3}">rest your eyes</td></tr>' if rest else ""
    label = f'<td class="code">{_text(sheet.label(line))}</td>'
    return f'{before}<tr><td class="number">{line + 1}</td>{label}{boxes}<td></td></tr>'


def _cells(facts: Facts, sheet: RunSheet) -> str:
    """Return one sheet of cells: to cut up as stickers, or to lay the swatches in."""
    labels = [_text(sheet.label(line)) for line in range(len(sheet.lines))]
    cells = "".join(f'<div class="cell">{label}<small>{place}</small></div>' for place, label in enumerate(labels, 1))
    empty = '<div class="cell"></div>' * (ACROSS * DOWN - len(labels))
    greys = "".join(f'<i style="background:{_grey(step)}"></i>' for step in range(GREYS))
    corners = "".join(f'<div class="corner {name}"></div>' for name in "abcd")
    told = f"{facts.session.code}: cells to swatch in, or to cut up as stickers"
    return f'{_head(told, ())}<div class="cells">{corners}<div class="greys">{greys}</div>{cells}{empty}</div>'


def _grey(step: int) -> str:
    value = round(255 * (1 - step / (GREYS - 1)))
    return f"#{value:02x}{value:02x}{value:02x}"


# For who prepares the sheet


def key_sheet(facts: Facts, sheet: RunSheet, names: Sequence[str], paper: Paper) -> str:
    """Return which specimen has which code, by sticker, for the person who prepares the sheet.

    Parameters
    ----------
    facts, sheet
        The sheet.
    names
        For each line its specimen in words: maker, paint, format.
    paper
        What it is printed on.
    """
    title = f"Key of run sheet {facts.session.code}: not for the tester {facts.session.tester}"
    lines = [
        (line.specimen.sticker, name, _code(line.row.code)) for line, name in zip(sheet.lines, names, strict=True)
    ]
    pans = _pans(sheet)
    rows = (
        f"<tr>{''.join(map(_cell, (pan, name, code)))}</tr>"
        for pan, (_, name, code) in zip(pans, sorted(lines), strict=True)
    )
    told = ["Put each specimen under its code, out of the tester's sight, and keep this until the session is closed."]
    told += [own_parts(facts)] if _comes_again(sheet) else []
    table = _table("key", title, ("sticker", "specimen", "code"), rows)
    return printed(title, [_head(title, told) + _cautions(sheet.cautions) + table], paper)


def _cell(text: str) -> str:
    return f"<td>{_text(text)}</td>"


def _code(code: str | None) -> str:
    return " ".join(code or "")


def own_parts(facts: Facts) -> str:
    """Return how a hidden repeat stays hidden: nothing may show two codes."""
    way = facts.way.pouring
    how = f": {way.parts}" if way is not None and way.parts else ""
    return (
        "A sticker with 'part 1', 'part 2' has several codes. Give each code a part of its own, taken from that "
        f"specimen{how}. Where it cannot be parted, have somebody hand it over twice in a holder that looks like the "
        "others. Two codes on one piece would give the repeat away."
    )


def _comes_again(sheet: RunSheet) -> bool:
    return len({line.specimen.id for line in sheet.lines}) < len(sheet.lines)


def _pans(sheet: RunSheet) -> list[str]:
    """Return for each line, in the order of the stickers, what its code is put on: the piece, or a part of it."""
    stickers = sorted(line.specimen.sticker for line in sheet.lines)
    often, seen = Counter(stickers), Counter[str]()
    pans = []
    for one in stickers:
        seen[one] += 1
        pans.append(f"{one}, part {seen[one]}" if often[one] > 1 else one)
    return pans


def strips(facts: Facts, sheet: RunSheet, paper: Paper) -> str:
    """Return strips to fold for a tester who prepares the sheet alone: a sticker, and behind it the code."""
    title = f"Strips of run sheet {facts.session.code}"
    told = [
        "Cut the strips apart and fold each at the dotted line, the code behind the sticker.",
        "Fix each to the specimen it names, or to its part, in holders that look alike. When all are fixed",
        "turn the strips over, so that only codes show, mix the holders, and take them in the order of the sheet.",
        "Whoever cuts strips may see a code: this is weaker than the help of another person.",
    ]
    told += [own_parts(facts)] if _comes_again(sheet) else []
    codes = [code for _, code in sorted((line.specimen.sticker, _code(line.row.code)) for line in sheet.lines)]
    lines = zip(_pans(sheet), codes, strict=True)
    folded = f'<div class="strips">{"".join(_strips(lines))}</div>'
    return printed(title, [_head(title, [" ".join(told)]) + folded], paper)


def _strips(lines: Iterable[tuple[str, str]]) -> Iterator[str]:
    for sticker, code in lines:
        yield f'<div class="strip"><span>{_text(sticker)}</span><span class="code">{_text(code)}</span></div>'
