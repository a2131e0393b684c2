"""How big and how divided the house is: now, and beside it at any commit named on the command line.

    .venv/bin/python tests/bench/bench_house.py [COMMIT ...]

Lines of code are counted without blanks, comments and docstrings. A name has several meanings when classes or
functions of that name, neither private nor methods, stand in several modules. A circle is of modules that import each
other, also within functions, but not for type checking. A small module has ninety lines of code or fewer.
"""

import ast
import io
import subprocess
import sys
import tarfile
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).parents[2]
SMALL = 90
Tree = ast.Module


@dataclass(frozen=True)
class Source:
    """One file: its dotted name, its tree, and its lines of code."""

    name: str
    tree: Tree
    code: frozenset[int]

    @property
    def is_package(self) -> bool:
        """Whether it is what a folder says of itself."""
        return self.name.endswith("__init__")


def read(folder: Path) -> list[Source]:
    """Return every Python file in `folder`, which is a package."""
    found = []
    for path in sorted(folder.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        name = ".".join(path.relative_to(folder.parent).with_suffix("").parts)
        found.append(Source(name, ast.parse(text), _code(text)))
    return found


def _code(text: str) -> frozenset[int]:
    """Return the numbers of the lines that are neither blank, comment, nor part of a docstring."""
    lines = enumerate(text.splitlines(), 1)
    wanted = {number for number, line in lines if line.strip() and not line.lstrip().startswith("#")}
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            wanted -= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return frozenset(wanted)


def imports(sources: list[Source]) -> dict[str, set[str]]:
    """Return the modules, packages apart, that each module imports anywhere but for type checking."""
    known = {one.name for one in sources if not one.is_package}
    return {one.name: {name for name in _imported(one.tree) if name in known} - {one.name} for one in sources}


def _imported(node: ast.AST) -> Iterator[str]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        if isinstance(child, ast.Import):
            yield from (alias.name for alias in child.names)
        elif isinstance(child, ast.ImportFrom) and child.module:
            yield child.module
            yield from (f"{child.module}.{alias.name}" for alias in child.names)
        yield from _imported(child)


def circles(graph: dict[str, set[str]]) -> list[list[str]]:
    """Return a circle, then one that is left without its last import, until there is none."""
    graph, found = {name: set(others) for name, others in graph.items()}, []
    while True:
        try:
            TopologicalSorter(graph).prepare()
        except CycleError as error:
            circle = error.args[1]
            found.append(circle)
            graph[circle[1]].discard(circle[0])
        else:
            return found


def _lengths(sources: list[Source]) -> list[int]:
    """Return the lines of code of each function and method."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [
        len(one.code & set(range(node.lineno, (node.end_lineno or node.lineno) + 1)))
        for one in sources
        for node in ast.walk(one.tree)
        if isinstance(node, kinds)
    ]


def _public(sources: list[Source], kinds: tuple[type[ast.AST], ...]) -> dict[str, set[str]]:
    """Return the modules in which each public name at the top is made."""
    found: dict[str, set[str]] = defaultdict(set)
    for one in sources:
        for node in one.tree.body:
            if isinstance(node, kinds) and not node.name.startswith("_"):  # type: ignore[attr-defined]
                found[node.name].add(one.name)  # type: ignore[attr-defined]
    return found


def _lines(sources: list[Source]) -> int:
    return sum(len(one.code) for one in sources)


def _is_published_of_stats(one: Source) -> bool:
    """Say whether a file holds the statistics to published numbers."""
    return one.name.startswith("tests.published.") and any(
        name.startswith("qcledger.stats") for name in _imported(one.tree)
    )


def measured(root: Path) -> dict[str, str]:
    """Return what is counted of the tree at `root`, by what it is called."""
    house, tests = read(root / "qcledger"), read(root / "tests")
    by_package = Counter[str]()
    for one in house:
        by_package[one.name.split(".")[1]] += len(one.code)
    graph = imports(house)
    importers = Counter(name for others in graph.values() for name in others)
    alone = [one for one in house if not one.is_package and len(one.code) <= SMALL and importers[one.name] == 1]
    classes = _public(house, (ast.ClassDef,))
    names = _public(house, (ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef))
    lengths = _lengths(house)
    stats = [one for one in tests if one.name.startswith("tests.stats.") or _is_published_of_stats(one)]
    told: dict[str, object] = {
        "lines of code": _lines(house),
        "files": len(house),
        "public classes": len(classes),
        "classes of one name in several modules": sum(len(where) > 1 for where in classes.values()),
        "public names with several meanings": f"{sum(len(where) > 1 for where in names.values())} of {len(names)}",
        "circles of modules": len(circles(graph)),
        f"modules of {SMALL} lines or fewer with one importer": len(alone),
        "function: median, p90, most": f"{median(lengths):.0f}, {quantiles(lengths, n=10)[-1]:.0f}, {max(lengths)}",
        "lines of tests a line": f"{_lines(tests) / _lines(house):.2f}",
        "lines of tests a line, stats": f"{_lines(stats) / by_package['stats']:.2f}",
        **{f"  {name}": lines for name, lines in sorted(by_package.items(), key=lambda one: -one[1])},
    }
    return {name: str(value) for name, value in told.items()}


def at_commit(commit: str, folder: Path) -> Path:
    """Put the tree of `commit` into `folder` and return that."""
    packed = subprocess.run(["git", "archive", commit], cwd=ROOT, capture_output=True, check=True).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as file:
        file.extractall(folder, filter="data")
    return folder


def main(commits: list[str]) -> None:
    """Print what is counted, a column a tree."""
    columns = []
    for commit in commits:
        with tempfile.TemporaryDirectory() as folder:
            columns.append((commit[:10], measured(at_commit(commit, Path(folder)))))
    columns.append(("now", measured(ROOT)))
    names = dict.fromkeys(name for _, column in columns for name in column)
    print(f"{'':52}" + "".join(f"{title:>14}" for title, _ in columns))
    for name in names:
        print(f"{name:52}" + "".join(f"{column.get(name, ''):>14}" for _, column in columns))


if __name__ == "__main__":
    main(sys.argv[1:])
