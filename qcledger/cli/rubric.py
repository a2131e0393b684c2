"""``qcledger rubric``: list the shipped rubrics, or check one file and print its ladders."""

import json
from collections.abc import Callable, Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import click

from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.rubric import Criterion, Rubric, build, columnwords, load, names, pigments, strict_yaml
from qcledger.rubric.columnwords import ColumnWords
from qcledger.rubric.ladder import heading, ladder, name_lines, pigment_lines, wrap
from qcledger.rubric.names import LabelName, LabelNames
from qcledger.rubric.pigments import Pigment, Pigments
from qcledger.settings import reference_files, rubric_files
from qcledger.text import harmless_in, one_line

Part = Criterion | Pigment | LabelName | tuple[str, ...]
Parts = Mapping[str, Part]
Loaded = Rubric | Pigments | LabelNames | ColumnWords

HASH_DIGITS = 12
"""How many digits of a version are enough to tell it by."""


def _files() -> dict[str, Path]:
    """Return the files at hand by name: the rubrics, and the references of names and pigments."""
    found = {**rubric_files(), **reference_files()}
    return {name: found[name] for name in sorted(found)}


def _find(name: str) -> Path:
    """Return the file that `name` means: a path, or a file at hand by its bare name."""
    known = _files()
    if name in known:
        return known[name]
    if not Path(name).is_file():
        raise bad("rubric", one_line(name), f"a file, or one of {', '.join(known)}")
    return Path(name)


def _load(path: Path) -> Loaded:
    """Read a file as what its first keys say it is."""
    tree = strict_yaml.read(build.read_text(path), one_line(path.name))
    reference = tree.items.get("reference") if isinstance(tree, strict_yaml.Pairs) else None
    if reference is None:
        return load(path)
    told = reference.text if isinstance(reference, strict_yaml.Scalar) else ""
    readers: Mapping[str, Callable[[Path], Loaded]] = {"names": names.load, "columnwords": columnwords.load}
    return readers.get(told, pigments.load)(path)


def _parts(loaded: Loaded) -> tuple[str, Parts]:
    """Return what a file holds, in one word and by key."""
    if isinstance(loaded, LabelNames):
        return "names", {one.title: one for one in loaded.names}
    if isinstance(loaded, ColumnWords):
        return "lists", loaded.lists
    return ("criteria", loaded.criteria) if isinstance(loaded, Rubric) else ("pigments", loaded.by_name)


def _plain(value: Any) -> Any:
    """Return a frozen value as what JSON can hold."""
    if hasattr(value, "__dataclass_fields__"):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {f"{key:g}" if isinstance(key, float) else key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | frozenset):
        return [_plain(item) for item in (sorted(value) if isinstance(value, frozenset) else value)]
    return value


def _list(as_json: bool) -> None:
    """Print one line a file at hand."""
    rows = []
    for path in _files().values():
        loaded = _load(path)
        word, parts = _parts(loaded)
        rows.append({"name": path.stem, "title": loaded.title, "holds": f"{len(parts)} {word}", "hash": loaded.hash})
    if as_json:
        tell(json.dumps(harmless_in(rows), ensure_ascii=False, indent=1), data=True)
        return
    for row in rows:
        tell(f"{row['name']:<12} {row['title']:<36} {row['holds']:<13} {row['hash'][:HASH_DIGITS]}")


def _lines(key: str, part: Part) -> list[str]:
    """Return one part of a file as lines."""
    if isinstance(part, tuple):
        return wrap(f"{key}: {', '.join(part)}", rest="  ")
    if isinstance(part, Criterion):
        return ladder(part)
    return pigment_lines(part) if isinstance(part, Pigment) else name_lines(part)


def _about(loaded: Pigments | LabelNames | ColumnWords) -> list[str]:
    return [*wrap(loaded.title), *wrap(loaded.about)]


def _print(loaded: Loaded, path: Path, chosen: Parts) -> None:
    """Print what was checked, then the chosen parts one at a time."""
    word, parts = _parts(loaded)
    lines = wrap(f"{one_line(path.name)} can be used: {len(parts)} {word}, version {loaded.hash[:HASH_DIGITS]}.")
    if len(chosen) > 1:
        about = heading(loaded) if isinstance(loaded, Rubric) else _about(loaded)
        lines += ["", *about]
    if isinstance(loaded, Pigments):
        lines += [line for caution in loaded.cautions for line in wrap(f"Caution: {caution}", rest="  ")]
    for key, part in chosen.items():
        lines += ["", *_lines(key, part)]
    tell("\n".join(lines))


@click.command()
@click.argument("name", required=False, metavar="[FILE|NAME]")
@click.option("--criterion", "key", metavar="KEY", help="Print this criterion (or pigment, such as PG18) alone.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def rubric(name: str | None, key: str | None, as_json: bool) -> None:
    """Check a rubric and print its ladders of anchors.

    Without a name, list the rubrics that came with the program and those in your own folder of rubrics. A NAME is
    one of those; a FILE is any other.
    """
    if name is None:
        if key is not None:
            raise bad("--criterion", key, "a rubric's name or file before it")
        _list(as_json)
        return
    path = _find(name)
    loaded = _load(path)
    word, parts = _parts(loaded)
    if key is not None and key not in parts:
        raise bad("--criterion", key, ", ".join(parts))
    chosen = {each: part for each, part in parts.items() if key in (None, each)}
    if as_json:
        head = {field: value for field, value in _plain(loaded).items() if field not in ("text", "by_name", word)}
        tell(json.dumps(harmless_in({**head, word: _plain(chosen)}), ensure_ascii=False, indent=1), data=True)
        return
    _print(loaded, path, chosen)
