"""What a ledger holds as tables for a notebook: findings, observations, specimens and labels as pandas DataFrames.

What each column means stands in `frame_columns` and in the guide, chapter *In a notebook*; their names stay.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from qcledger.ledger import Ledger
from qcledger.ledger.identity import who_is_who
from qcledger.ledger.queries import void_rows
from qcledger.records import Lot, Maker, Paint, Parcel, Record, Specimen, columns
from qcledger.report.frame_columns import FINDINGS, LABELS, OBSERVATIONS, SPECIMENS, kind_of
from qcledger.report.kept import KeptFindings
from qcledger.report.label_rows import label_rows
from qcledger.report.rows import finding_row

_DTYPES: Final[Mapping[str, str]] = {
    "text": "string", "whole": "Int64", "number": "Float64", "yes or no": "boolean", "day": "datetime64[s]",
    "time": "datetime64[us, UTC]",
}  # fmt: skip
"""How pandas holds each kind, whatever stands in a ledger; each has an empty value, and a day is its midnight."""


@dataclass(frozen=True, slots=True)
class Frames:
    """A ledger as it stood when it was read.

    Parameters
    ----------
    findings
        One row for each criterion, maker and format, with the names of ``qcledger findings --as csv``.
    observations
        One row for each observation that stands, also those that do not count; blind sessions are left out.
    specimens
        One row for each specimen that was not taken out of the stock.
    labels
        Rows for each print of a label: what is said of it, graded and claimed; no rates.
    """

    findings: pd.DataFrame
    observations: pd.DataFrame
    specimens: pd.DataFrame
    labels: pd.DataFrame


def read(where: str | Path, *, comparison: str | None = None, wait: bool = True) -> Frames:
    """Return a ledger's findings, observations, specimens and facts of labels as DataFrames.

    Parameters
    ----------
    where
        A ledger file, or the URL of one on a server; it is opened for reading.
    comparison
        The id of the only comparison that findings, and labels, are wanted of; None for everything tested. The other
        two frames always hold everything.
    wait
        Whether to work out what the pooled model has not answered yet, which may take half a minute and is kept.
        Without, such findings read ``checking``.

    Raises
    ------
    LedgerUnavailable
        When there is no ledger.
    BadInput
        When there is no such comparison.
    """
    with Ledger.open(where) as ledger:
        reading = KeptFindings().reading(ledger, comparison)
        if wait:
            reading.work_out()
        findings = _frame(map(finding_row, reading.found.findings), FINDINGS)
        seen = (
            asdict(row) | {"pigments": " ".join(row.pigments), "facts": "; ".join(row.facts)}
            for row in ledger.tested_rows()
        )
        facts = (row for fact in reading.label_facts for row in label_rows(fact))
        return Frames(findings, _frame(seen, OBSERVATIONS), _specimens(ledger), _frame(facts, LABELS))


def _specimens(ledger: Ledger) -> pd.DataFrame:
    """Join specimens with their parcels, lots and paints; whatever counts as one has the name it has now."""
    known = who_is_who(ledger)
    with ledger.reading() as connection:
        out = void_rows(connection, Specimen.TABLE)
    makers = {row.id: known.name(Maker.TABLE, row.id, row.name) for row in ledger.rows(Maker)}
    paints = pd.DataFrame(
        [(row.id, makers[row.maker], known.name(Paint.TABLE, row.id, row.name)) for row in ledger.rows(Paint)],
        columns=["paint_id", "maker", "paint"],
    )
    pieces = _rows(ledger, Specimen).rename(columns={"id": "specimen", "paint": "paint_id", "lot": "lot_id"})
    pieces = pieces[~pieces["specimen"].isin(out)]
    parcels = _rows(ledger, Parcel)[["id", "bought_on", "received_on", "seller", "currency"]]
    lots = _rows(ledger, Lot)[["id", "code"]]
    joined = (
        pieces.merge(paints, on="paint_id", how="left")
        .merge(parcels.rename(columns={"id": "parcel"}), on="parcel", how="left")
        .merge(lots.rename(columns={"id": "lot_id", "code": "lot"}), on="lot_id", how="left")
        .sort_values("sticker")
    )
    joined["seller"] = joined["seller"].map(known.seller)
    return _frame(({str(name): value for name, value in row.items()} for row in joined.to_dict("records")), SPECIMENS)


def _rows(ledger: Ledger, kind: type[Record]) -> pd.DataFrame:
    names = [shape.name for shape in columns(kind)]
    rows = [[getattr(row, name) for name in names] for row in ledger.rows(kind)]
    return pd.DataFrame(rows, columns=names, dtype=object)


def _frame(rows: Iterable[Mapping[str, Any]], wanted: Mapping[str, str]) -> pd.DataFrame:
    """Return rows as a frame of these columns, in their order."""
    frame = pd.DataFrame(list(rows), columns=list(wanted), dtype=object)
    for name in wanted:
        dtype: Any = _DTYPES[kind_of(name, wanted)]
        plain = frame[name].where(frame[name].notna(), None)
        frame[name] = (pd.to_datetime(plain, utc="UTC" in dtype) if "datetime" in dtype else plain).astype(dtype)
    return frame
