"""Where this program keeps its things, and what a tester has set.

Settings are one small TOML file, ``settings.toml``, in the settings folder; every field of `Settings` may stand in
it under its own name, and each field's docstring is its manual.
"""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from qcledger.errors import BadInput, Problem, bad
from qcledger.vocab import CURRENCY_DIGITS

HOME_VARIABLE = "QCLEDGER_HOME"
"""Environment variable that holds one folder for settings and data alike, as tests and portable copies want it."""


def _folder(kind: str) -> Path:
    """Return this system's folder for `kind` ("config" or "data"), without making it."""
    home = os.environ.get(HOME_VARIABLE)
    if home:
        return Path(home)
    import platformdirs  # here, because most commands are told their ledger and ask for no folder

    return platformdirs.user_config_path("qcledger") if kind == "config" else platformdirs.user_data_path("qcledger")


def config_folder() -> Path:
    """Return the folder of ``settings.toml`` and of the daybooks' identities; it may not exist yet."""
    return _folder("config")


def settings_file() -> Path:
    """Return the file that holds what a tester has set; there is none until the tester makes it."""
    return config_folder() / "settings.toml"


def data_folder() -> Path:
    """Return the folder of the default ledger, the demo copy and the error log; it may not exist yet."""
    return _folder("data")


def default_ledger() -> Path:
    """Return the place of the ledger that commands use when none is named."""
    return data_folder() / "ledger" / "ledger.sqlite"


def photo_copies() -> Path:
    """Return the folder of reduced copies of photos, which may be deleted; it may not exist yet."""
    return data_folder() / "photo_copies"


def error_log() -> Path:
    """Return the file that holds the details of errors this program did not expect."""
    return data_folder() / "qcledger.log"


def log_error(error: BaseException) -> None:
    """Append the details of an error this program did not expect to `error_log`.

    Raises
    ------
    OSError
        When the log cannot be written.
    """
    import traceback  # here, because nearly every run does without

    log = error_log()
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("a", encoding="utf-8") as out:
        out.write("".join(traceback.format_exception(error)) + "\n")


def shipped(kind: str) -> Path:
    """Return the folder of files that came with the program.

    Parameters
    ----------
    kind
        ``"rubrics"``, ``"demo_ledger"`` or ``"guide"``. In an installed wheel they lie inside the package; in a
        checkout rubrics and demo lie beside it.
    """
    package = Path(__file__).parent
    inside = package / kind
    return inside if inside.is_dir() else package.parent / kind


def own_rubrics() -> Path:
    """Return the folder of a tester's own rubrics; it may not exist."""
    return data_folder() / "rubrics"


REFERENCES: Final = ("columnwords", "names", "pigments")
"""Files beside the rubrics that are none: what labels are held against, and words over columns."""


def rubric_files() -> dict[str, Path]:
    """Return the rubric files at hand by name, in its order: those that came with the program and a tester's own.

    A file of the tester's takes the place of one with the same name.
    """
    found = {path.stem: path for folder in (shipped("rubrics"), own_rubrics()) for path in folder.glob("*.yaml")}
    return {name: found[name] for name in sorted(found) if name not in REFERENCES}


def reference_files() -> dict[str, Path]:
    """Return the files that are no rubrics by name; a tester's own words and names take the place of ours."""
    ours = {name: shipped("rubrics") / f"{name}.yaml" for name in REFERENCES}
    own = {name: own_rubrics() / f"{name}.yaml" for name in REFERENCES if name != "pigments"}
    return ours | {name: path for name, path in own.items() if path.is_file()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a tester has set."""

    theme: str = "daylight"
    """``daylight`` (light) or ``lamplight`` (dark)."""
    dates: str = "iso"
    """How dates are shown: ``iso`` (2026-03-09), ``day first`` (9.3.2026) or ``month first`` (3/9/2026)."""
    decimal_mark: str = "."
    """The mark before the decimals in files you import and numbers you type: ``.`` or ``,``."""
    rubric: str = "watercolour"
    """The rubric, by its name, of a ledger that has no comparison yet: its words are spoken, and it is offered."""
    currency: str = "EUR"
    """The currency prices are compared in (ISO 4217 code)."""
    photo_folder: str = ""
    """The folder your camera or phone saves into; the newest file there is filed by one key."""
    pictures: str = "blocks"
    """How photos are drawn: ``blocks`` (in every terminal) or ``pixels`` (where it knows sixel or Kitty graphics)."""
    drying_days: int = 7
    """How many days a poured tube must have dried before it is tested beside pans."""
    answer_days: int = 21
    """How many days a maker is given to answer, from the day it is asked."""
    bell: bool = False
    """Whether the beat that counts turns also sounds the terminal's bell."""
    keys: Mapping[str, str] = field(default_factory=dict)
    """Keys of your own, as action name and key; the help of each page (``?``, then n) lists the action names."""


_CHOICES: Mapping[str, tuple[str, ...]] = {
    "theme": ("daylight", "lamplight"),
    "dates": ("iso", "day first", "month first"),
    "decimal_mark": (".", ","),
    "pictures": ("blocks", "pixels"),
    "currency": tuple(CURRENCY_DIGITS),
}
_TEXT_TABLE = "a table of action names and keys, both in quotes"


def _is_texts(value: object) -> bool:
    return isinstance(value, dict) and all(isinstance(part, str) for part in value.values())


_TYPES: Mapping[str, tuple[Callable[[object], bool], str]] = {
    "rubric": (lambda value: isinstance(value, str) and value != "", "the name of a rubric, in quotes"),
    "photo_folder": (lambda value: isinstance(value, str), "a folder, in quotes"),
    "drying_days": (lambda value: type(value) is int and 0 <= value <= 365, "a number of days from 0 to 365"),
    "answer_days": (lambda value: type(value) is int and 1 <= value <= 365, "a number of days from 1 to 365"),
    "bell": (lambda value: isinstance(value, bool), "true or false"),
    "keys": (_is_texts, _TEXT_TABLE),
}


def _problem(where: str, name: str, value: object) -> Problem | None:
    """Return what is wrong with one setting, or None."""
    known = [setting.name for setting in fields(Settings)]
    if name not in known:
        return bad(where, name, "settings named " + ", ".join(known)).problems[0]
    if name in _CHOICES:
        choices = _CHOICES[name]
        allowed = " or ".join(f'"{choice}"' for choice in choices) if len(choices) < 5 else ", ".join(choices)
        return None if value in choices else bad(f"{where}, {name}", value, allowed).problems[0]
    is_right, allowed = _TYPES[name]
    return None if is_right(value) else bad(f"{where}, {name}", value, allowed).problems[0]


def read_settings(text: str, where: str) -> Settings:
    """Return the settings written in TOML `text`.

    Raises
    ------
    BadInput
        Naming each setting that is unknown or has a value that is not allowed.
    """
    import tomllib  # here, because most testers have set nothing

    try:
        values: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise bad(where, str(error), 'lines of the form name = "value"') from error
    problems = [problem for name, value in values.items() if (problem := _problem(where, name, value))]
    if problems:
        raise BadInput(problems)
    return Settings(**values)


_PHOTO_LINE: Final = re.compile(r"^[ \t]*photo_folder[ \t]*=.*$", re.MULTILINE)
_FIRST_TABLE: Final = re.compile(r"^[ \t]*\[", re.MULTILINE)


def name_photo_folder(folder: Path) -> Settings:
    """Write the photo folder into the settings file, leave every other line as it is, and return what is set then.

    Raises
    ------
    BadInput
        When the folder is none, or the file cannot be read or written, or holds the folder in a way of its own.
    """
    import json  # a text in JSON's quotes is one in TOML's

    if not folder.is_dir():
        raise bad("photo folder", str(folder), "a folder that is there")
    load_settings()  # a file that cannot be read is not written over
    path = settings_file()
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    table = _FIRST_TABLE.search(text)
    head, tables = (text[: table.start()], text[table.start() :]) if table else (text, "")
    line = f"photo_folder = {json.dumps(str(folder), ensure_ascii=False)}"
    head = _PHOTO_LINE.sub(lambda _: line, head) if _PHOTO_LINE.search(head) else f"{line}\n{head}"
    settings = read_settings(head + tables, str(path))
    if settings.photo_folder != str(folder):
        raise bad(f"{path}, photo_folder", "a line that is written another way", line)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = path.with_suffix(".part")
        draft.write_text(head + tables, encoding="utf-8")
        draft.replace(path)
    except OSError as error:
        raise bad(str(path), error.strerror or "nothing", "a file that can be written") from error
    return settings


def load_settings() -> Settings:
    """Return the tester's settings; the defaults when there is no settings file."""
    path = settings_file()
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings()
    except UnicodeDecodeError as error:
        raise bad(str(path), "bytes that are not UTF-8", "a text file in UTF-8") from error
    except OSError as error:
        raise bad(str(path), (error.strerror or "no reason given").lower(), "a file that can be read") from error
    return read_settings(text, str(path))
