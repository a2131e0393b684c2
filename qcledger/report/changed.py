"""Standings that an update of the program changed: what was told last is remembered, and held against what is now.

It is remembered beside the answers that are kept, in one file a ledger on this machine; losing it loses the
comparison alone. A row whose standing changed stays as it was told until somebody has looked at it.
"""

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import qcledger
from qcledger.bench.due import Due, LooseEndKind
from qcledger.findings import Findings
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.rules import CHANGES, RuleChange, edition, rules_behind
from qcledger.findings.together import REACHED
from qcledger.findings.wording import subject_words
from qcledger.findings.words import lower_first
from qcledger.records.finding_key import FindingKey
from qcledger.settings import data_folder
from qcledger.vocab import MARKS, Extent, Standing

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Told = tuple[tuple[str, ...], ...]
"""What is told of a row: standing, extent and subject of each claim to confirm or settled; else its standing."""


@dataclass(frozen=True, slots=True)
class ToldRow:
    """A row as it was told last: by which edition of the rules and program, and over which records."""

    told: Told
    edition: int
    program: str
    records: str


@dataclass(frozen=True, slots=True)
class ChangedStanding:
    """A row that reads otherwise since an update.

    Parameters
    ----------
    finding
        As it is now.
    before, now
        What was told of it, and what is.
    rules
        The changes of the rules that may have done it; empty where the table of rules names none.
    recorded
        Whether records were added, or changed, as well since it was told.
    """

    finding: Finding
    before: Told
    now: Told
    rules: tuple[RuleChange, ...]
    recorded: bool


class ToldStandings:
    """What was told last of each row of one ledger.

    Parameters
    ----------
    ledger
        Which one.
    folder
        Where it is remembered; None: beside the answers that are kept.
    changes, program
        The table of the rules, and the program's version.
    """

    def __init__(
        self,
        ledger: "Ledger",
        folder: Path | None = None,
        changes: Sequence[RuleChange] = CHANGES,
        program: str = qcledger.__version__,
    ) -> None:
        name = sha256(ledger.where.encode()).hexdigest()[:32]
        self._file = (folder or data_folder() / "worked_out") / "told" / f"{name}.json"
        self._changes, self._program = changes, program
        self._records = sha256(repr(sorted(ledger.closing_hashes().items())).encode()).hexdigest()[:16]
        self._rows = self._read()

    def changed(self, found: Findings) -> list[ChangedStanding]:
        """Return the rows that an update changed and nobody has looked at since; everything else is remembered.

        Parameters
        ----------
        found
            All findings of the ledger. What is still worked out is left as it was told.
        """
        rows, changed = dict(self._rows), []
        for finding in found.findings:
            if is_awaited(finding):
                continue
            now, before = self._as_told(finding), rows.get(key_of(finding))
            if before is not None and before.told != now.told and self._by_update(before):
                rules = rules_behind(finding, before.edition, self._changes)
                recorded = before.records != now.records
                changed.append(ChangedStanding(finding, before.told, now.told, rules, recorded))
            else:
                rows[key_of(finding)] = now
        gone = set(rows) - {key_of(finding) for finding in found.findings}
        self._keep({key: row for key, row in rows.items() if key not in gone})
        return changed

    def awaited(self, found: Findings) -> int:
        """Return how many rows that could be said by earlier rules are still worked out by the new ones."""
        rows = ((self._rows.get(key_of(one)), one) for one in found.findings if is_awaited(one))
        return sum(row is not None and self._by_update(row) and len(row.told[0]) > 1 for row, _ in rows)

    def seen(self, found: Findings, keys: Iterable[str]) -> None:
        """Remember these rows as they are now: somebody has looked at them."""
        wanted = set(keys)
        now = {key_of(one): self._as_told(one) for one in found.findings if key_of(one) in wanted}
        self._keep(self._rows | now)

    def _as_told(self, finding: Finding) -> ToldRow:
        return ToldRow(told_of(finding), edition(self._changes), self._program, self._records)

    def _by_update(self, before: ToldRow) -> bool:
        """Say whether rules or program changed since: the program alone only where no record did."""
        same_records = before.records == self._records
        return before.edition != edition(self._changes) or (same_records and before.program != self._program)

    def _read(self) -> dict[str, ToldRow]:
        # A file cut short, or changed by hand, is as good as none.
        with suppress(OSError, ValueError, TypeError, LookupError, AttributeError):
            plain: Mapping[str, list[Any]] = json.loads(self._file.read_text(encoding="utf-8"))
            return {str(key): _row(*values) for key, values in plain.items()}
        return {}

    def _keep(self, rows: Mapping[str, ToldRow]) -> None:
        if rows == self._rows:
            return
        self._rows = dict(rows)
        plain = {key: [row.told, row.edition, row.program, row.records] for key, row in rows.items()}
        with suppress(OSError):  # a folder that cannot be written to remembers nothing
            self._file.parent.mkdir(parents=True, exist_ok=True)
            part = self._file.with_suffix(f".{os.getpid()}")
            part.write_text(json.dumps(plain, separators=(",", ":")), encoding="utf-8")
            part.replace(self._file)


def _row(plain: Any, by: Any, program: Any, records: Any) -> ToldRow:
    told = tuple(tuple(map(str, one)) for one in plain)
    told_words(told)  # what cannot be told was never written
    return ToldRow(told, int(by), str(program), str(records))


def key_of(finding: Finding) -> str:
    """Return the key of a finding as text."""
    return FindingKey(finding.criterion.key, finding.maker, str(finding.format)).text


def is_awaited(finding: Finding) -> bool:
    """Say whether a standing of a finding is still worked out; what is pending beside that moves none."""
    claims = (claim for claim in (finding.claim, *finding.exceptions) if claim)
    return Standing.CHECKING in {finding.standing, *(claim.standing for claim in claims)}


def told_of(finding: Finding) -> Told:
    """Return what is told of a finding."""
    reached = [claim for claim in (finding.claim, *finding.exceptions) if claim and claim.standing in REACHED]
    return tuple(sorted(map(_of_claim, reached))) or ((finding.standing.name_for_files,),)


def _of_claim(claim: Claim) -> tuple[str, ...]:
    return (claim.standing.name_for_files, claim.extent.name, *claim.subject)


def told_words(told: Told) -> str:
    """Return what was told of a row, in words: ``/// settled (lot Q2 of Red)``."""
    return " and ".join(map(_words, told))


def _words(one: tuple[str, ...]) -> str:
    standing, *about = Standing(one[0]), *one[1:]
    what = f" ({subject_words(Extent[about[0]], tuple(about[1:]))})" if about else ""
    return f"{MARKS[standing]} {standing}{what}"


def changed_lines(changed: Iterable[ChangedStanding], awaited: int = 0) -> list[Due]:
    """Return a loose end for each standing that an update changed, with the rule that did it.

    Parameters
    ----------
    changed
        The rows.
    awaited
        How many more are still worked out by the new rules, which the page Findings does.
    """
    lines = [Due(LooseEndKind.CHANGED, changed_words(one), key_of(one.finding)) for one in changed]
    if awaited:
        standings = "standing is" if awaited == 1 else "standings are"
        words = f"since the update {awaited} {standings} still to be worked out anew: the page Findings does"
        lines.append(Due(LooseEndKind.CHANGED, words))
    return lines


def changed_words(one: ChangedStanding) -> str:
    """Return one change in words: what, from what to what, and the rule."""
    finding = one.finding
    what = f"{finding.maker_name} {finding.format}, {lower_first(finding.criterion.title)}"
    of_one_thing = len(one.before) == len(one.now) == 1 and one.before[0][1:] == one.now[0][1:]
    now = tuple(claim[:1] for claim in one.now) if of_one_thing else one.now  # what it is about is named once
    return f"{what}: {told_words(one.before)} before the update, now {told_words(now)}. {_why(one)}"


def _why(one: ChangedStanding) -> str:
    rules = "; ".join(rule.words for rule in one.rules)
    told = f"The rule{'s' if len(one.rules) > 1 else ''}: {rules}" if rules else UNNAMED
    return f"{told}{AS_WELL if one.recorded else ''}"


UNNAMED: Final = "No rule is known to have changed: please report it"
AS_WELL: Final = ". Records were added since as well"
