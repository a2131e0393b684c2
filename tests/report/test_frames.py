"""A ledger in a notebook: three frames with documented columns, and the tables as classes."""

import csv
import io
import subprocess
import sys

import pandas as pd
import pytest
from sqlmodel import select

import qcledger
from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger, models
from qcledger.ledger.tables import METADATA
from qcledger.records import Specimen
from qcledger.report import findings_csv
from qcledger.report.frame_columns import (
    FINDINGS,
    LABELS,
    OBSERVATIONS,
    SPECIMENS,
    TRAITS,
    in_csv,
    in_markdown,
    kind_of,
)
from qcledger.report.kept import KeptFindings, WorkedOut
from qcledger.report.store import Store
from qcledger.settings import shipped

ALL = {"findings": FINDINGS, "observations": OBSERVATIONS, "specimens": SPECIMENS, "labels": LABELS}
KIND = {
    "text": pd.api.types.is_string_dtype,
    "whole": pd.api.types.is_integer_dtype,
    "number": pd.api.types.is_float_dtype,
    "yes or no": pd.api.types.is_bool_dtype,
    "day": pd.api.types.is_datetime64_dtype,
    "time": lambda dtype: isinstance(dtype, pd.DatetimeTZDtype) and str(dtype.tz) == "UTC",
}


@pytest.fixture
def frames(demo_file):
    return qcledger.read(demo_file, wait=False)


def check_columns(frames):
    for name, columns in ALL.items():
        frame = getattr(frames, name)
        assert list(frame) == list(columns)
        for column in frame:
            assert KIND[kind_of(column, columns)](frame[column].dtype), column


def test_each_column_is_documented_and_holds_what_it_says(frames, tmp_path):
    """The demo's frames and those of an empty ledger have the same columns and types."""
    check_columns(frames)
    Ledger.create(tmp_path / "empty.sqlite", letters="OV", tester="Oda Vane").close()
    empty = qcledger.read(tmp_path / "empty.sqlite")
    check_columns(empty)
    assert (len(empty.findings), len(empty.observations), len(empty.specimens)) == (0, 0, 0)


def test_the_findings_are_those_of_the_command(frames, demo_file):
    """Row by row, number by number what the command prints as CSV."""
    with Ledger.open(demo_file) as ledger:
        told = list(csv.DictReader(io.StringIO(findings_csv(KeptFindings().reading(ledger).found))))
    assert list(told[0]) == ["kind", *frames.findings]
    assert len(told) == len(frames.findings) > 100
    for name in ("maker", "standing", "sentence"):
        assert [row[name] for row in told] == frames.findings[name].fillna("").tolist()
    for name in ("specimens", "faulty", "wilson_low"):
        assert [float(row[name]) for row in told] == frames.findings[name].tolist()


def test_observations_and_specimens_are_those_of_the_ledger(frames, demo_file):
    """Every row that stands, each joined with its specimen; prices are whole minor units of a currency."""
    with Ledger.open(demo_file) as ledger:
        rows, pieces = ledger.tested_rows(), {row.sticker: row for row in ledger.rows(Specimen)}
    assert frames.observations["observation"].tolist() == [row.observation for row in rows]
    graded = [row.grade for row in rows if row.grade is not None]
    assert frames.observations["grade"].dropna().tolist() == graded
    assert set(frames.specimens["sticker"]) <= set(pieces)
    assert len(frames.specimens) == frames.specimens["specimen"].nunique() == 197
    paid = frames.specimens.set_index("sticker")["price_minor"]
    assert all(pieces[sticker].price_minor == price for sticker, price in paid.dropna().items())
    assert frames.specimens["currency"].str.fullmatch("[A-Z]{3}").all()
    assert frames.specimens["maker"].nunique() == 9
    joined = frames.observations.merge(frames.specimens, on="specimen", suffixes=("", "_of"))
    assert (joined["maker_name"] == joined["maker_of" if "maker_of" in joined else "maker"]).all()


def test_the_tables_are_classes_that_cannot_be_written(demo_file):
    """Each table of a ledger, with its columns; a session on them reads and refuses to write."""
    assert {name: set(one.model_fields) for name, one in models.classes().items()} == {
        name: set(table.c.keys()) for name, table in METADATA.tables.items()
    }
    with qcledger.tables(demo_file) as (session, table):
        specimen, paint = table["specimen"], table["paint"]
        found = session.exec(select(specimen, paint).join(paint, paint.id == specimen.paint)).all()
        assert len(found) == len(session.exec(select(specimen)).all()) == 197
        session.add(table["maker"](id="x", name="x", note="", daybook="x"))
        with pytest.raises(Exception, match=r"readonly|read-only|query_only|attempt to write"):
            session.flush()
        session.rollback()


def test_a_ledger_that_is_not_there_is_told(tmp_path):
    """One line, as everywhere."""
    with pytest.raises(LedgerUnavailable):
        qcledger.read(tmp_path / "none.sqlite")


def test_the_guide_shows_the_columns():
    """What each column means stands once in the code; the guide shows the same lines."""
    guide = (shipped("guide") / "notebook.md").read_text(encoding="utf-8")
    for columns in ALL.values():
        assert in_markdown(columns) in guide


def test_the_columns_of_the_csv_are_told_once(cli):
    """The guide and `findings --columns` show the same tables, which name each column of the file in its order."""
    told = in_csv()
    assert told in (shipped("guide") / "csv.md").read_text(encoding="utf-8")
    printed = cli("findings", "--columns")
    assert (printed.code, printed.out, printed.err) == (0, f"{told}\n", "")
    names = [line.split("`")[1] for line in told.splitlines() if line.startswith("| `")]
    with_traits = names.index("choices") - list(TRAITS).index("choices")
    assert names[with_traits:] == list(TRAITS)
    assert len(set(names[:with_traits])) == with_traits == 1 + len({**FINDINGS, **LABELS}) - ("kind" in LABELS)


@pytest.mark.parametrize("traits", [False, True])
def test_the_csv_has_the_columns_that_are_told(demo_file, tmp_path, traits):
    """A file of the demo's findings, or of a trait alone, has just these columns, in this order."""
    with Ledger.open(demo_file) as ledger:
        found = WorkedOut(ledger, None, Store(tmp_path)).whole
    text = findings_csv(found.only(criterion="staining") if traits else found)
    names = [line.split("`")[1] for line in in_csv().splitlines() if line.startswith("| `")]
    at = len(names) - len(TRAITS)
    assert next(csv.reader(io.StringIO(text))) == (names[at:] if traits else names[:at])


def test_a_ledger_is_opened_without_pandas_and_without_classes(tmp_path):
    """Neither is needed for the pages and commands; both load when a notebook asks."""
    Ledger.create(tmp_path / "one.sqlite", letters="OV", tester="Oda Vane").close()
    looked = (
        "import sys; from qcledger.ledger import Ledger\n"
        f"with Ledger.open({str(tmp_path / 'one.sqlite')!r}) as ledger: ledger.tested_rows()\n"
        "print({'pandas', 'sqlmodel'} & set(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", looked], capture_output=True, text=True).stdout == "set()\n"
