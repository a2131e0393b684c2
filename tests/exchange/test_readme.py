"""An exchange folder explains itself: its README alone is enough to count what the program counts."""

import ast
import hashlib
import io
import json
import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest

from qcledger.exchange import merge_folder, readme, to_folder
from qcledger.exchange.meanings import EVERYWHERE, MEANS, ROWS, meaning
from qcledger.ledger import Ledger
from qcledger.records import (
    Decision,
    Maker,
    Observation,
    SameAs,
    Session,
    columns,
)
from qcledger.report import findings_csv
from qcledger.report.kept import WorkedOut
from qcledger.report.store import Store
from qcledger.settings import shipped
from qcledger.vocab import TAKEN_BACK, DecisionKind, Sameness
from tests.exchange.stranger import Stranger


def told(ledger, tmp_path):
    """Return what `findings --as csv` says, under the names of its cells; the pooled model is not waited for."""
    text = findings_csv(WorkedOut(ledger, None, Store(tmp_path / "answers")).found)
    found = pd.read_csv(io.StringIO(text))
    return found[found["kind"] == "finding"].set_index(["criterion", "maker", "format"])


def assert_same(counted, found):
    """Compare every count of every cell."""
    assert set(counted.index) == set(found.index)
    counted = counted.reindex(found.index)
    for name in counted:
        mine, theirs = counted[name], found[name]
        unlike = (mine != theirs) & ~(mine.isna() & theirs.isna())
        if name == "rate":
            unlike &= (mine - theirs).abs() > 1e-12
        assert found.index[unlike].tolist() == [], name


def test_the_stranger_knows_nothing_of_the_program():
    """The script that counts imports pandas, a reader of YAML and the standard library, and nothing of ours."""
    tree = ast.parse((Path(__file__).parent / "stranger.py").read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert names == {"json", "pathlib", "pandas", "yaml"}


def test_a_stranger_counts_the_demo(demo_file, tmp_path):
    """Whoever has only the demo's folder and pandas gets the counts of all cells by the rules of its README."""
    with Ledger.open(demo_file) as ledger:
        found = told(ledger, tmp_path)
    counted = Stranger(shipped("demo_ledger")).counts()
    assert len(counted) > 250
    assert counted["specimens"].sum() > 1_500
    assert counted["faulty"].sum() > 50
    assert_same(counted, found)
    told_of = readme.text().split("| column | is the number of |")[1].split("`rate` is")[0]
    wanted = {one for line in told_of.splitlines() if line.startswith("| `") for one in counts_in(line)}
    assert set(counted) == wanted | {"rate", "median_grade", "bought_first", "bought_last"}


def counts_in(line):
    """Return the columns of a line of the README's table of counts; with `_faulty` those of the faulty ones, too."""
    names = [one for one in line.split("`")[1::2] if one not in ("why", "_faulty")]
    return [*names, *(f"{name}_faulty" for name in names if "`_faulty`" in line)]


def test_a_stranger_counts_what_was_decided_since(demo_file, tmp_path):
    """So too once a session is void, another was and is not, grades are amended or taken back, and names are one."""
    shutil.copy(demo_file, tmp_path / "more.ledger")
    shutil.copytree(demo_file.parent / "photos", tmp_path / "photos")
    with Ledger.open(tmp_path / "more.ledger", write=True) as ledger:
        before = told(ledger, tmp_path)
        decide(ledger)
        found = told(ledger, tmp_path)
        to_folder(ledger, tmp_path / "out")
    assert found["in_void_sessions"].sum() > before["in_void_sessions"].sum()
    assert found["faulty"].sum() != before["faulty"].sum()
    assert len(found) < len(before)
    assert_same(Stranger(tmp_path / "out").counts(), found)


def decide(ledger):
    """Void a session, void and reinstate another, amend and take back grades, unite two makers, give a piece away."""
    sessions = {row.code: row.id for row in ledger.rows(Session)}
    today = ledger.day()

    def decision(code, kind):
        fields = {"subject_table": "session", "subject": sessions[code], "by": "OV", "on": today, "reason": "a test"}
        return Decision(id=ledger.new_id(), kind=kind, **fields)

    ledger.append([decision("S02", DecisionKind.VOID)])
    ledger.append([decision("S03", DecisionKind.VOID)])
    ledger.append([decision("S03", DecisionKind.REINSTATE)])
    graded = [
        row for row in ledger.rows(Observation, criterion="wrapper_adhesion", tester="OV") if row.grade is not None
    ]
    for number, row in enumerate(graded[:6]):
        new = replace(row, id=ledger.new_id(), supersedes=row.id, reason="looked again")
        other = {"grade": 5.0 if row.grade < 3 else 0.0}
        ledger.append([replace(new, **({"grade": None, "not_testable": TAKEN_BACK} if number % 2 else other))])
    one, other, *_ = ledger.rows(Maker)
    fields = {"subject_table": "maker", "subject": one.id, "other": other.id, "by": "OV", "on": today}
    ledger.append([SameAs(id=ledger.new_id(), kind=Sameness.SAME, reason="one house", **fields)])


def test_every_column_has_its_meaning():
    """The README names each table and column of the folder with what it holds, and no column that is not there."""
    text = readme.text()
    for table, kind in ROWS.items():
        (part,) = [part for part in text.split("\n### ") if part.startswith(f"{table}.csv\n")]
        told_of = [line.split("`")[1] for line in part.splitlines() if line.startswith("| `")]
        assert told_of == [column.name for column in columns(kind)]
        assert all(meaning(table, name) for name in told_of)
        assert set(MEANS.get(table, {})) <= set(told_of)
    assert set(MEANS) <= set(ROWS)
    assert {column.name for kind in ROWS.values() for column in columns(kind)} >= set(EVERYWHERE)


def test_the_readme_travels_with_the_folder(tmp_path):
    """It is in the manifest; a folder whose README was changed is refused, one without any is taken in as before."""
    with Ledger.create(tmp_path / "one.sqlite", letters="OV", tester="Oda Vane") as ledger:
        to_folder(ledger, tmp_path / "out")
    content = (tmp_path / "out" / readme.NAME).read_bytes()
    assert content.decode() == readme.text()
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert manifest["files"][readme.NAME] == {"sha256": hashlib.sha256(content).hexdigest()}
    with Ledger.create(tmp_path / "two.sqlite", letters="TL", tester="Tam Lind") as ledger:
        (tmp_path / "out" / readme.NAME).write_bytes(content + b"more\n")
        with pytest.raises(Exception, match=f"{readme.NAME}.*changed"):
            merge_folder(ledger, tmp_path / "out")
        (tmp_path / "out" / readme.NAME).unlink()
        del manifest["files"][readme.NAME]
        (tmp_path / "out" / "manifest.json").write_text(json.dumps(manifest))
        assert merge_folder(ledger, tmp_path / "out") == 1


def test_the_chain_is_as_the_readme_says():
    """Hashes worked out from the README's recipe are those of the demo, entry by entry."""
    entries = Stranger(shipped("demo_ledger")).entries
    last = {}
    for entry in entries.itertuples():
        at = datetime.fromisoformat(entry.at).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        body = entry.body.encode()
        inner = hashlib.sha256(bytes.fromhex(entry.salt) + body).hexdigest()
        of = ["qcledger entry 1", entry.daybook, int(entry.seq), entry.prev, entry.kind, at, inner]
        if entry.replaces:
            of = ["qcledger entry 2", *of[1:], entry.replaces.split(" | ")]
        mine = hashlib.sha256(json.dumps(of, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()
        assert (inner, mine, entry.prev) == (entry.body_hash, entry.hash, last.get(entry.daybook, ""))
        last[entry.daybook] = entry.hash
    closing = json.loads((shipped("demo_ledger") / "manifest.json").read_text())["closing"]
    assert last == {book: end["hash"] for book, end in closing.items()}
