"""The calibration table from the results kept: `python -m tests.bench.calibration.table` prints it in Markdown."""

from collections.abc import Callable, Iterator, Sequence
from operator import itemgetter
from typing import Any

from qcledger.stats.proportion import clopper_pearson
from tests.bench.calibration import kept
from tests.bench.calibration.judge import DELTA
from tests.bench.calibration.run import oracle_line
from tests.bench.calibration.sbc import coverage
from tests.bench.calibration.scenarios import BAD_LOT, BAD_PAINT, HALF, SCENARIOS, Recipe

Rows = Sequence[dict[str, Any]]
Line = tuple[str, str, str, str]
"""What is counted, its bar, what was measured, what else there is to say."""

FEWEST = 20
"""Ledgers from which a scenario has rows of its own; `in_all` counts those of fewer together."""

MATCHED = 0.01
"""A rate of false accusations at which both are read, whatever the line."""
LITTLE = 0.5
"""Logits by which a maker is hardly better: 50 % beside 38 %."""
RARE = 1e-3
"""The oracle is read at our own rate of false accusations, at least this."""


def main() -> None:
    """Print the table."""
    print("\n".join((*table(), "", *in_all())))


def table() -> Iterator[str]:
    """Yield one line per figure: scenario, what is counted, bar, measured, oracle or remark, naive, ledgers, when."""
    yield "| scenario | counted | bar | measured | beside it | naive | run |\n|---|---|---|---|---|---|---|"
    for name in kept.names():
        rows = kept.rows(name)
        if len(rows) < FEWEST:
            continue
        for what, bar, measured, beside in lines(name, rows):
            naive = f"{sum(row['naive'] > 0 for row in rows) / len(rows):.0%}" if "naive" in rows[0] else ""
            when = f"{rows[-1]['on']}, {'/'.join(dict.fromkeys(row['commit'] for row in rows))}"
            yield f"| {name} | {what} | {bar} | {measured} | {beside} | {naive} | {when} |"


def in_all() -> Iterator[str]:
    """Yield what was counted in worlds looked at twice, those of a kind and of every rho together."""
    kinds: dict[str, list[dict[str, Any]]] = {}
    for name in kept.names():
        if name.startswith("after"):
            kinds.setdefault(name.removeprefix("after_").rpartition("_")[0], []).extend(kept.rows(name))
    yield "| world | ledgers | innocent accused | guilty named, settled | bad lot, paint, pigment named, settled |"
    yield "|---|---|---|---|---|"
    for kind, rows in kinds.items():
        cells = [len(rows), sum(row["innocent"] for row in rows)]
        yield f"| {kind.replace('_', ' ')} | {' | '.join(map(str, (*cells, *_both(rows))))} |"


def _both(rows: Rows) -> Iterator[str]:
    """Yield how many makers or formats, then how many lots, paints or pigments, are named and settled rightly."""
    narrow = (("lot", "lot_settled"), ("paint", "paint_settled"), ("pigment", "pigment"))
    wide = ((("cell", "maker"), "to_confirm", "settled"),)
    for wanted in (wide, tuple(((kind,), kind, firm) for kind, firm in narrow)):
        mine = [(row, *one) for row in rows for one in wanted if _has(row, one[0])]
        hits, firm = (sum(_hit(row, kinds, what[place]) for row, kinds, *what in mine) for place in (0, 1))
        yield f"{hits}, {firm} of {len(mine)}" if mine else ""


def _has(row: dict[str, Any], kinds: Sequence[str]) -> bool:
    return any(one and one[0] in kinds for one in (row["guilty"], row["also"]))


def lines(name: str, rows: Rows) -> Iterator[Line]:
    """Yield what the table says of a scenario."""
    kind, where = name.split("_small")[0].split("_large")[0], name
    if kind == "sbc":
        yield from _sbc(rows)
    elif kind == "buying":
        yield from _buying(rows)
    elif kind == "listed":
        yield from _listed(rows)
    elif kind == "narrow":
        yield from _narrow(name, rows)
    elif kind.startswith("scorecard"):
        yield from _scorecard(rows)
    elif kind.startswith("after"):
        yield from _after(rows)
    elif kind.startswith("praise"):
        yield from _praise(rows)
    elif kind.startswith("grades"):
        yield from _grades(rows)
    else:
        recipe = SCENARIOS[where]
        for wanted, reader in READERS:
            if wanted(recipe):
                yield from reader(recipe, where, rows)


def _false(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    """Accusations of somebody who is not worse than the field."""
    wrong = sum(row["innocent_accused"] for row in rows)
    under = sum(row["under_delta"] for row in rows)
    beside = f"true excess under 10 points: {under}" if any(recipe.scales) else ""
    yield "innocent accused", "2 % (12 of 1,000)", _of(wrong, len(rows)), beside


def _wide(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    """Pigments and formats named, rightly and wrongly."""
    for kind in ("pigment", "format"):
        mine = [row["planted"][0] if recipe.at == kind else None for row in rows]
        if recipe.at == kind:
            hits = [one in [named for named, _ in row[kind]] for one, row in zip(mine, rows, strict=True)]
            far = [hit for hit, row in zip(hits, rows, strict=True) if row["planted"][1] > DELTA]
            beside = f"of those truly more than ten points harder: {_of(sum(far), len(far))}"
            yield f"{kind} named", "80 %", _of(sum(hits), len(rows)), beside
        others = [[true for named, true in row[kind] if named != one] for one, row in zip(mine, rows, strict=True)]
        wrong, small = (sum(any(true <= limit for true in row) for row in others) for limit in (0.0, 0.05))
        yield (
            f"another {kind} named",
            "",
            _of(sum(map(bool, others)), len(rows)),
            (f"of them not harder at all: {wrong}, by under 5 points: {small}"),
        )


def _hits(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    """Guilty units named, beside the oracle at the same rate of false accusations, and how often called sound."""
    size = name.split("_", 2)[2]
    fair = kept.rows(f"fair_{size}")
    bar = "85 % of the oracle" if recipe.bump == HALF else ""
    hits = sum(row["guilty"] in row["accused"] for row in rows)
    rate = max(sum(bool(row["accused"]) for row in fair) / max(len(fair), 1), RARE)
    extent = sum(any(one[1] == row["guilty"][1] for one in row["accused"]) for row in rows)
    beside = f"{_oracle(recipe, size, rows, rate, hits)}; right maker at whichever extent: {extent}"
    yield "right unit named", bar, _of(hits, len(rows)), beside
    line = sorted(map(_p_value, fair))[round(MATCHED * len(fair)) - 1] if fair else 1.0
    if line < 1:  # else fewer fair fields than that have anybody to be checked
        hits = sum(_p_value(row) <= line and row["strongest"][0] == row["guilty"] for row in rows)
        beside = _oracle(recipe, size, rows, MATCHED, hits)
        told = f"by the fair-field check alone, at p <= {line:.4f} as in 1 % of fair fields"
        yield told, "", _of(hits, len(rows)), beside
    sound = sum(any(list(cell) in row["none_found"] for cell in _cells(row["guilty"])) for row in rows)
    yield "called none found", "1 %" if recipe.bump == HALF else "5 %", _of(sound, len(rows)), ""


def _oracle(recipe: Recipe, size: str, rows: Rows, rate: float, hits: int) -> str:
    line = oracle_line(size, recipe.bump or HALF, rate)
    won = sum(row["oracle"] > line and row["oracle_unit"] == row["guilty"] for row in rows)
    share = f"{hits / won:.0%} of the oracle's" if won else "the oracle names none"
    return f"oracle {won} at {rate:.1%} false: {share}"


def _p_value(row: dict[str, Any]) -> float:
    return (row["strongest"][1] + 1) / (row["strongest"][2] + 1) if row["strongest"] else 1.0


def _lot(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    named = sum(row["guilty"][1] in row["lot"] for row in rows)
    others = sum(any(lot != row["guilty"][1] for lot in row["lot"]) for row in rows)
    yield "bad lot named", "80 %", _of(named, len(rows)), f"another lot named: {others}"


def _paint(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    named = sum(row["guilty"][1:] in row["paint"] for row in rows)
    others = sum(any(one != row["guilty"][1:] for one in row["paint"]) for row in rows)
    yield "bad paint named", "", _of(named, len(rows)), f"another paint named: {others}"


def _parcel(recipe: Recipe, name: str, rows: Rows) -> Iterator[Line]:
    named = sum(any(maker == row["guilty"][1] for maker, _ in row["parcel"]) for row in rows)
    yield "bad parcel named", "", _of(named, len(rows)), ""


def _buying(rows: Rows) -> Iterator[Line]:
    for what, looks in (("to confirm or holds", "accused"), ("holds", "held")):
        any_look, first, last = (
            sum(bool(look(row[looks])) for row in rows) for look in (any, itemgetter(0), itemgetter(-1))
        )
        told = f"at the first look {first}, at the last {last}"
        yield f"{what} at any of 7 looks", "2 % (12 of 1,000)", _of(any_look, len(rows)), told


def _listed(rows: Rows) -> Iterator[Line]:
    """Yield the same of buying what the list names, and how much of it was bought to confirm."""
    yield from _buying(rows)
    bought, confirming = (sum(sum(turn[place] for turn in row["bought"]) for row in rows) for place in (0, 1))
    told = f"{bought} pieces bought, {confirming} of them to confirm"
    narrow = sum(any(row["narrow"]) for row in rows)
    yield "a paint, parcel or lot holds at any of 7 looks", "", _of(narrow, len(rows)), told


def _narrow(name: str, rows: Rows) -> Iterator[Line]:
    """Paints, lots and parcels named in fair fields; with level lots all of them wrongly."""
    level = name.endswith("0.001")
    told = {"paint": sum(row["wrong_paint"] > 0 for row in rows)}
    wide = (("pigment", "5 %"), ("format", "5 %")) if level else ()
    for what, bar in (*wide, ("paint", "2 %"), ("lot", "5 %" if level else ""), ("parcel", "5 %")):
        named = sum(row[what] > 0 for row in rows)
        beside = f"one that is no worse than its pigment: {told[what]}" if what in told and not level else ""
        yield f"a {what} named where nobody differs", bar, _of(named, len(rows)), beside


def _scorecard(rows: Rows) -> Iterator[Line]:
    """Accusations on any of a scorecard's criteria: of the innocent, and of the one who is guilty on the first."""
    wrong = sum(
        any(one != row["guilty"] and one[:3] != (row["guilty"] or [])[:3] for one in row["accused"]) for row in rows
    )
    yield "innocent accused on any of 12 criteria", "2 % (12 of 1,000)", _of(wrong, len(rows)), ""
    if rows[0]["guilty"]:
        hits = sum(row["guilty"] in row["accused"] for row in rows)
        yield "right unit named", "", _of(hits, len(rows)), ""


def _praise(rows: Rows) -> Iterator[Line]:
    """Yield who is praised falsely on any of a scorecard's criteria, and rightly on the first."""
    wrong, small = (sum(any(one[-1] <= most for one in row["praised"]) for row in rows) for most in (0.0, LITTLE))
    yield (
        "praised and no better, on any of 12 criteria",
        "2 % (12 of 1,000)",
        _of(wrong, len(rows)),
        f"better by under {LITTLE:g} on the logit scale: {small - wrong}",
    )
    if rows[0]["spared"] >= 0:
        hits = sum(any(one[:2] == ["c0", row["spared"]] for one in row["praised"]) for row in rows)
        common = sum(row["named"] for row in rows)
        yield "the one that is free of it praised", "", _of(hits, len(rows)), f"what is common named: {common}"


def _after(rows: Rows) -> Iterator[Line]:
    """Yield what is to confirm, and what is settled after that: the guilty, the innocent, and who is cleared."""
    counts = {what: sum(row[what] for row in rows) for what in ("innocent", "innocent_settled")}
    yield (
        "innocent maker or format to confirm",
        "2 %",
        _of(counts["innocent"], len(rows)),
        f"settled: {counts['innocent_settled']}",
    )
    guilty = {tuple(one) for row in rows for one in (row["guilty"], row["also"]) if one}
    for kinds, named, settled in (
        (("cell", "maker"), "to_confirm", "settled"),
        (("lot",), "lot", "lot_settled"),
        (("paint",), "paint", "paint_settled"),
        (("pigment",), "pigment", "pigment"),
    ):
        if any(one[0] in kinds for one in guilty):
            hits, firm = (sum(_hit(row, kinds, where) for row in rows) for where in (named, settled))
            yield (
                f"{kinds[0] if len(kinds) == 1 else 'right unit'} named",
                "",
                _of(hits, len(rows)),
                f"settled: {firm}",
            )
    if any(one[0] in ("cell", "maker") for one in guilty):
        stood = [(row, name) for row in rows for name in row["confirmed"] if name == row["guilty"]]
        still = sum(name in row["settled"] for row, name in stood)
        yield "right claims confirmed that are settled", "80 %", _of(still, len(stood)), ""
        sound = sum(any(list(cell) in row["none_found"] for cell in _cells(row["guilty"])) for row in rows)
        yield "guilty called none found", "1 %", _of(sound, len(rows)), ""
    for what in ("lot", "paint"):
        yield (
            f"another {what} to confirm",
            "",
            _of(sum(_another(row, what, what) for row in rows), len(rows)),
            f"settled: {sum(_another(row, what, f'{what}_settled') for row in rows)}",
        )


def _hit(row: dict[str, Any], kinds: Sequence[str], where: str) -> bool:
    """Say whether the guilty of some kinds is among what is kept under `where`."""
    return any(_as_kept(one) in row[where] for one in (row["guilty"], row["also"]) if one and one[0] in kinds)


def _another(row: dict[str, Any], what: str, where: str) -> bool:
    """Say whether a lot or a paint is named that is not the planted one; those of a guilty maker are not counted."""
    mine = [_as_kept(one) for one in (row["guilty"], row["also"]) if one and one[0] == what]
    accused = bool(row["guilty"]) and row["guilty"][0] in ("cell", "maker")
    return not accused and any(one not in mine for one in row[where])


def _as_kept(one: Sequence[Any]) -> Any:
    """Return a guilty one as the lists of what is named hold it."""
    kind, first, second = one
    kept = {"lot": first, "paint": [first, second], "pigment": f"P{first:02d}"}
    return kept.get(kind, list(one))


def _grades(rows: Rows) -> Iterator[Line]:
    for how in ("faults", "grades"):
        named = sum(row[how] is not None for row in rows)
        if rows[0]["guilty"]:
            hits = sum(row[how] == row["guilty"] for row in rows)
            yield f"right unit named by {how}", "", _of(hits, len(rows)), f"anybody named: {named}"
        else:
            yield f"innocent accused by {how}", "2 % (12 of 1,000)", _of(named, len(rows)), ""


def _sbc(rows: Rows) -> Iterator[Line]:
    for quantity, (share, error, p) in coverage(rows).items():
        yield (
            f"95 % interval of {quantity} holds the truth",
            "93-97 %",
            f"{share:.1%} +- {error:.1%}",
            (f"ranks uniform: p {p:.2f}; {len(rows)} ledgers"),
        )


def _of(count: int, total: int) -> str:
    """Return a share with its Clopper-Pearson 95 % interval."""
    if not total:
        return "none"
    limits = clopper_pearson(count, total)
    return f"{count} of {total:,}: {count / total:.1%} ({limits.low * 100:.1f} to {limits.high * 100:.1f})"


def _cells(guilty: Sequence[Any]) -> list[tuple[int, int]]:
    kind, maker, format_ = guilty
    return [(maker, format_)] if kind == "cell" else [(maker, 0), (maker, 1)]


READERS: tuple[tuple[Callable[[Recipe], bool], Callable[[Recipe, str, Rows], Iterator[Line]]], ...] = (
    (lambda recipe: True, _false),
    (lambda recipe: recipe.at in {"cell", "maker"}, _hits),
    (lambda recipe: recipe.planted == BAD_LOT, _lot),
    (lambda recipe: recipe.planted == BAD_PAINT, _paint),
    (lambda recipe: recipe.bad_parcel, _parcel),
    (lambda recipe: recipe.at in {"pigment", "format"} or recipe == Recipe(recipe.size, recipe.rho), _wide),
)


if __name__ == "__main__":
    main()
