"""What was typed into a plan, on a page or after a command, as the wish that a run sheet answers."""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger import figures
from qcledger.bench import offer as offers
from qcledger.bench import poured, typed, worked
from qcledger.bench.begin import MOST_LINES
from qcledger.bench.chance import SeededDraws
from qcledger.bench.known import latest_labels
from qcledger.bench.offer import Offer
from qcledger.bench.planning import SEEDS, LaidOut, Wish, as_given, group_of, lay_out, most_specimens
from qcledger.clock import day_of
from qcledger.errors import bad
from qcledger.records import Comparison, LabelVersion, Maker, Paint, Parcel, Record, RunRow, Session, Specimen, Trial
from qcledger.settings import Settings, shipped
from qcledger.text import one_line
from qcledger.vocab import Blinding, Occasion, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Rubric

_YES: Final[Mapping[str, bool]] = {"": False, "no": False, "n": False, "yes": True, "y": True}


def new_seed() -> int:
    """Return a seed that nobody has chosen."""
    return secrets.randbelow(SEEDS)


@dataclass(frozen=True, slots=True)
class Asking:
    """Who asks for a plan, and when.

    Parameters
    ----------
    settings
        The tester's settings.
    now
        The time of day (aware).
    new_id
        The id of a comparison, should it be a new one.
    seed
        Draws which specimens come on the sheet where there are more than it takes.
    """

    settings: Settings
    now: datetime
    new_id: str
    seed: int


def rubrics_of(values: Mapping[str, str], offered: Offer, ledger: "Ledger") -> "list[Rubric]":
    """Return the rubrics a plan is judged by: those frozen in an open comparison, or those typed for a new one."""
    from qcledger.rubric import load  # here, because reading YAML is no matter of the first paint

    old = offered.comparison(values.get("comparison", ""))
    if old is not None:
        return [ledger.rubric(kept) for kept in old.rubrics]
    return [load(offered.rubrics[key]) for key in offers.rubric_keys(values.get("rubric", ""), offered.rubrics)]


def read_wish(
    values: Mapping[str, str], offered: Offer, rubrics: "Sequence[Rubric]", ledger: "Ledger", asking: Asking
) -> Wish:
    """Return the wish that a filled form makes.

    Parameters
    ----------
    values
        What was typed into: comparison, specimens (empty for those of the comparison not tested yet), criteria,
        control, repeats, blinding, weak_first, testers, start, although, and the fields of `offer.plan`.
    offered, rubrics
        What the ledger offers, and the rubrics of `rubrics_of`.
    ledger, asking
        The ledger, and who asks.

    Raises
    ------
    BadInput
        Naming the field that is wrong.
    """
    form, zone = typed.FormReader(values), ledger.zone
    title = values.get("comparison", "").strip()
    comparison = offers.comparison_for(title, rubrics, offered, new_id=asking.new_id, on=ledger.day(asking.now))
    control = form.read("control", offered.find, default=())
    blinding = form.must("blinding", partial(typed.word, words=Blinding), default=Blinding.SHUFFLED)
    weak_first = form.read("weak_first", _yes, default=False)
    repeats = form.read("repeats", _count, default=None)
    start = form.read("start", partial(figures.moment, zone=zone, order=asking.settings.dates), default=asking.now)
    testers = form.read("testers", typed.names, default=(offered.tester,))
    keys = form.read("criteria", partial(_criteria, rubrics=rubrics), default=())
    form.done()
    if len(control) > 1:
        raise bad("control", values["control"], "one specimen")
    specimens = _specimens(values.get("specimens", ""), offered, comparison, control, ledger, asking.seed)
    if offered.comparison(title) is None:
        comparison = replace(comparison, paints=tuple(sorted({one.paint for one in specimens})))
    every = (*specimens, *control)
    _refuse_gone(every, ledger, day_of(start, zone))
    return Wish(
        plan=offers.plan(values, offered, comparison, rubrics, specimens=specimens, criteria=keys),
        blinding=blinding,
        criteria=keys,
        control=control[0] if control else None,
        repeats=repeats,
        groups=_groups(every, ledger) if weak_first else {},
        kinds=_kinds(every, ledger),
        testers=testers,
        prepared=poured.latest(ledger, every),
        how_bought=offered.bought,
        drying_days=asking.settings.drying_days,
        pouring=worked.worked(rubrics).pouring,
        although=values.get("although", ""),
        start=start,
        zone=zone,
    )


def _yes(text: str, where: str) -> bool:
    word = one_line(text).casefold()
    if word not in _YES:
        raise bad(where, text, "yes or no")
    return _YES[word]


def _count(text: str, where: str) -> int:
    number = figures.as_whole(text)
    if number is None or number > MOST_LINES:
        raise bad(where, text, f"a number from 0 to {MOST_LINES}, or nothing for one in ten")
    return number


def _criteria(text: str, where: str, *, rubrics: "Sequence[Rubric]") -> tuple[str, ...]:
    """Return the keys of the criteria named, by key or title."""
    judged = {
        key: criterion
        for rubric in rubrics
        for key, criterion in rubric.criteria.items()
        if criterion.seen_at is Occasion.BENCH
    }
    by_name = {name.casefold(): key for key, criterion in judged.items() for name in (criterion.title, key)}
    names = typed.names(text, where)
    unknown = next((name for name in names if name.casefold() not in by_name), None)
    if unknown is not None:
        raise bad(where, unknown, ", ".join(judged))
    return tuple(dict.fromkeys(by_name[name.casefold()] for name in names))


# Which specimens


def _specimens(
    text: str, offered: Offer, comparison: Comparison, control: Sequence[Specimen], ledger: "Ledger", seed: int
) -> tuple[Specimen, ...]:
    """Return the specimens named; without any, those of the comparison that were not tested yet.

    When there are more than a sheet takes, chance draws them, so that a sheet is not one parcel's.
    """
    if text.strip():
        return offered.find(text, "specimens")
    own = {one.id for one in control}
    found = [one for one in untested(ledger, comparison) if one.id not in own]
    if not found:
        begun = bool(ledger.rows(Session, comparison=comparison.id))
        why = (
            "nothing of this comparison is left to test"
            if begun
            else "nothing tested yet, so none can be taken from it"
        )
        raise bad("specimens", "", f"stickers such as OV 0147-0152; {why}")
    drawn = SeededDraws(seed).shuffled(found)[: most_specimens(bool(control))]
    return tuple(sorted(drawn, key=lambda one: one.sticker))


def _refuse_gone(specimens: Sequence[Specimen], ledger: "Ledger", on: date) -> None:
    """Refuse what cannot be tested on a day: at the bench the refusal would tell its code."""
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    parcels = ledger.by_id(Parcel, {one.parcel for one in specimens})
    for one in specimens:
        came = parcels[one.parcel].received_on or parcels[one.parcel].bought_on
        if one.state is SpecimenState.USED_UP or one.id in out:
            raise bad("specimens", f"{one.sticker}, {'taken out' if one.id in out else one.state}", "what is there")
        if came > on:
            raise bad("specimens", f"{one.sticker}, here from {came} on", f"what is there on {on}")


def untested(ledger: "Ledger", comparison: Comparison) -> list[Specimen]:
    """Return the specimens of a comparison's paints that were on none of its sheets, by sticker.

    Its paints are those it names and those its sheets hold already. What is sealed as a reserve, used up or taken out
    is passed over, and so is a specimen whose only session was voided: it is on a sheet, and is retested by name.
    """
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.queries import void_rows

    sessions = {row.id for row in ledger.rows(Session, comparison=comparison.id)}
    on_sheets = {row.specimen for session in sessions for row in ledger.rows(RunRow, session=session)}
    seen = {row.specimen for session in sessions for row in ledger.rows(Trial, session=session)}
    named = {*comparison.paints, *(one.paint for one in ledger.by_id(Specimen, on_sheets).values())}
    known = who_is_who(ledger)
    paints = {one for paint in named for one in known.members(Paint.TABLE, paint)}
    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    kept = {SpecimenState.RESERVE, SpecimenState.USED_UP}
    found = [one for paint in paints for one in ledger.rows(Specimen, paint=paint)]
    left = [one for one in found if one.state not in kept and one.id not in on_sheets | seen | out]
    return sorted(left, key=lambda one: one.sticker)


def _kinds(specimens: Sequence[Specimen], ledger: "Ledger") -> dict[str, tuple[str, ...]]:
    from qcledger.ledger.identity import who_is_who

    known, paints = who_is_who(ledger), ledger.by_id(Paint, {one.paint for one in specimens})
    return {one.id: (known.one(Maker.TABLE, paints[one.paint].maker), str(one.format)) for one in specimens}


def _groups(specimens: Sequence[Specimen], ledger: "Ledger") -> dict[str, int]:
    """Return the place of each specimen in the order of weak and strong colours, by its label."""
    from qcledger.rubric import pigments

    reference = pigments.load(shipped("rubrics") / "pigments.yaml")
    latest = latest_labels(ledger)
    own = ledger.by_id(LabelVersion, {one.label_version for one in specimens if one.label_version})
    found = {}
    for one in specimens:
        label = own.get(one.label_version or "") or latest.get(one.paint)
        found[one.id] = group_of(label.index_names if label else (), reference)
    return found


@dataclass(frozen=True, slots=True)
class ProposedSheet:
    """A run sheet that answers a wish and is not kept yet."""

    wish: Wish
    rubrics: "tuple[Rubric, ...]"
    laid: LaidOut


def begin(values: Mapping[str, str], ledger: "Ledger", asking: Asking) -> ProposedSheet:
    """Write the open sheet that a filled form names, in its order, and return it: a plan that asks for nothing more.

    Raises
    ------
    BadInput
        Naming the field that is wrong.
    """
    from qcledger.ledger import new_id

    wish, rubrics = _wished({**values, "blinding": Blinding.OPEN, "repeats": "0"}, ledger, asking)
    proposal = ProposedSheet(wish, rubrics, as_given(wish, at=asking.now, new_id=new_id))
    keep(proposal, ledger)
    return proposal


def propose(values: Mapping[str, str], ledger: "Ledger", asking: Asking) -> ProposedSheet:
    """Return the run sheets that answer a filled form, read as `read_wish` says; nothing is written.

    Raises
    ------
    BadInput
        Naming the field that is wrong.
    """
    from qcledger.ledger import new_id

    wish, rubrics = _wished(values, ledger, asking)
    return ProposedSheet(wish, rubrics, lay_out(wish, seed=asking.seed, at=asking.now, new_id=new_id))


def _wished(values: Mapping[str, str], ledger: "Ledger", asking: Asking) -> "tuple[Wish, tuple[Rubric, ...]]":
    """Return the wish of a filled form and the rubrics it is judged by; no session has its code yet."""
    offered = offers.offer(ledger)
    values = {"session": offered.code, **{name: text for name, text in values.items() if text.strip()}}
    rubrics = rubrics_of(values, offered, ledger)
    wish = read_wish(values, offered, rubrics, ledger, asking)
    _refuse_taken(wish.plan.code, ledger)
    return wish, tuple(rubrics)


def _refuse_taken(code: str, ledger: "Ledger") -> None:
    taken = {session.code for session in ledger.rows(Session)}
    if code in taken or f"{code}.1" in taken:
        raise bad("session", code, "a code that no session has yet")


def keep(proposal: ProposedSheet, ledger: "Ledger") -> None:
    """Write the run sheets of a proposal, all or nothing; a reason given goes into each entry."""
    ledger.append(rows(proposal, ledger), reason=proposal.laid.reason)
    worked.speak_of(ledger)  # its comparison may be the first of these things


def rows(proposal: ProposedSheet, ledger: "Ledger") -> list[Record]:
    """Return what keeping a proposal writes."""
    return [*(ledger.keep_rubric(rubric) for rubric in proposal.rubrics), *proposal.laid.records]
