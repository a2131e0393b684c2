"""The rules of the house that a machine can hold."""

import ast
import re
import subprocess
import sys
import tomllib
from collections import defaultdict
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted((ROOT / "qcledger").rglob("*.py"))
HEAVY = {
    "numpy",
    "scipy",
    "pandas",
    "sqlmodel",
    "sqlalchemy",
    "pydantic",
    "textual",
    "yaml",
    "PIL",
    "openpyxl",
    "xlrd",
    "jinja2",
}


def _imported(*command: str) -> set[str]:
    """Return the top-level packages that a fresh Python imports while it runs `command`."""
    run = subprocess.run(
        [sys.executable, "-X", "importtime", *command], capture_output=True, text=True, check=False, cwd=ROOT
    )
    names = [line.rsplit("|", 1)[1].strip() for line in run.stderr.splitlines() if line.startswith("import time:")]
    return {name.partition(".")[0] for name in names}


@pytest.mark.parametrize("args", [["--help"], ["--version"], []], ids=["help", "version", "bare"])
def test_help_loads_nothing_heavy(args):
    """The list of commands is printed without importing any library but click."""
    assert _imported("-m", "qcledger", *args) & HEAVY == set()


def test_layers_hold():
    """Imports run downwards only, as the contracts in pyproject.toml say."""
    from importlinter.cli import lint_imports

    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True) == 0


def test_no_modules_import_each_other_in_a_circle():
    """No circle, not even by imports within functions; pages alone may lead to each other."""
    import grimp

    graph = grimp.build_graph("qcledger", exclude_type_checking_imports=True)
    packages = {name for name in graph.modules if graph.find_children(name)}
    judged = {name for name in graph.modules - packages if not name.startswith("qcledger.screens.")}
    imports = {name: graph.find_modules_directly_imported_by(name) & judged for name in judged}
    assert len(judged) > 200
    TopologicalSorter(imports).prepare()  # raises with the circle it found


def test_one_name_is_one_class():
    """No two modules have a class of one name, so that whoever reads it elsewhere knows which one is meant."""
    where = defaultdict(list)
    for path in (ROOT / "qcledger").rglob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where[node.name].append(str(path.relative_to(ROOT)))
    assert len(where) > 300
    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


def test_every_listed_command_exists():
    """Each name in the table of commands leads to a command whose help begins with the line in the table."""
    from qcledger.cli import COMMANDS, program

    for name, (_, line) in COMMANDS.items():
        command = program.get_command(None, name)
        assert command is not None
        assert command.name == name
        assert (command.help or "").split("\n")[0] == line


def test_top_level_holds_what_the_readme_says():
    """Nothing lies beside the files and folders a newcomer is told of."""
    tracked = subprocess.run(["git", "ls-files"], capture_output=True, text=True, check=True, cwd=ROOT).stdout
    top = {line.partition("/")[0] for line in tracked.splitlines()}
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "qcledger",
        "tests",
        "rubrics",
        "demo_ledger",
    }
    assert {name for name in top if not name.startswith(".")} == allowed


def test_dependencies_carry_their_reason():
    """Each dependency in pyproject.toml has its reason beside it."""
    lines = (ROOT / "pyproject.toml").read_text(encoding="utf-8").splitlines()
    project = tomllib.loads("\n".join(lines))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["postgres"]]
    bare = [want for want in wanted if not any(want in line and "#" in line.partition(want)[2] for line in lines)]
    assert bare == []


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_and_functions_stay_small(source):
    """No file is longer than 400 lines of code, no function than 50, no class than 250; docstrings do not count."""
    tree = ast.parse(source.read_text(encoding="utf-8"))
    docs = {
        line
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }
    text = source.read_text(encoding="utf-8").splitlines()
    code = {n for n, line in enumerate(text, 1) if line.strip() and not line.strip().startswith("#")} - docs

    def length(node):
        return len(code & set(range(node.lineno, node.end_lineno + 1)))

    long = [
        f"{node.name}: {length(node)}"
        for node in ast.walk(tree)
        if (isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and length(node) > 50)
        or (isinstance(node, ast.ClassDef) and length(node) > 250)
    ]
    assert long == []
    assert len(code) <= 400, f"{len(code)} lines of code"


def test_commands_print_through_one_function():
    """No command prints but through `said.tell`, which leaves out what steers a terminal."""
    prints = re.compile(r"\b(click\.(echo|secho)|print|sys\.std(out|err)\.write)\(")
    commands = sorted((ROOT / "qcledger" / "cli").glob("*.py"))
    assert [path.name for path in commands if prints.search(path.read_text(encoding="utf-8"))] == ["said.py"]


def test_days_are_taken_from_instants_in_one_place():
    """No file but clock.py makes a day or a local time of an instant: a zone left out is the machine's, or UTC."""
    bare = [
        f"{path.relative_to(ROOT)}:{node.lineno} {name}"
        for path in SOURCES
        if path.name != "clock.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (name := _without_zone(node))
    ]
    assert bare == []


def _without_zone(node):
    """Return what a call is that takes a day, or this machine's time, without saying in which zone."""
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return ""
    name, told = node.func.attr, [*node.args, *(one.value for one in node.keywords)]
    bare = {"date", "astimezone", "today", "timetuple", "toordinal"} if not told else set()
    return name if name in bare | {"utcnow", "utcfromtimestamp", "fromordinal"} else ""


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("at.date()", "date"),
        ("row.trial_at.date().isoformat()", "date"),
        ("at.astimezone()", "astimezone"),
        ("date.today()", "today"),
        ("at.astimezone(UTC)", ""),
        ("clock.day_of(at, zone)", ""),
        ("date(2026, 3, 9)", ""),
        ("row.day", ""),
    ],
)
def test_what_takes_a_day_without_a_zone_is_seen(line, found):
    """The rule above sees each way a day was taken wrongly, and lets the right ones be."""
    assert next(filter(None, map(_without_zone, ast.walk(ast.parse(line)))), "") == found
