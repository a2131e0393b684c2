"""What goes out of a ledger and comes into it, from whatever page: prints, copies, other daybooks, other files."""

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from qcledger.errors import bad
from qcledger.screens.dialogs import ToRead
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_line
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.settings import name_photo_folder, own_rubrics
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Session

NEW_FOLDER: Final = "the path of a new folder, best on another disk"
BACKUP: Final = f"Backup: copy ledger and photos into {NEW_FOLDER}; the copy is verified"
MOST_BYTES: Final = 2_000_000
"""Most that a scale file may have."""


def path_of(text: str, allowed: str) -> Path:
    """Return a typed path as a whole one; raises BadInput for an empty line."""
    if not one_line(text):
        raise bad("path", "", allowed)
    return Path(one_line(text)).expanduser().absolute()


def _typed(page: Page, title: str, read: Callable[[str], Awaitable[str]], start: str = "") -> None:
    """Ask for a line, do what it says, and say what was done; what is refused is told below the line."""
    page.app.push_screen(TypeLine(title, read, start), lambda done: page.say(done) if done is not None else None)


def back_up(page: Page) -> None:
    """Ask for a new folder, copy the ledger and its photos there, and verify the copy."""

    async def read(text: str) -> str:
        folder = path_of(text, NEW_FOLDER)
        return f"backup made and verified: {await page.desk.read(lambda ledger: ledger.backup(folder))}"

    _typed(page, BACKUP, read)


def export(page: Page) -> None:
    """Write the whole ledger as a folder of CSV files and photos."""

    async def read(text: str) -> str:
        folder = path_of(text, "the path of a new folder")

        def write(ledger: "Ledger") -> int | None:
            from qcledger.exchange import to_folder

            return to_folder(ledger, folder).files["entries.csv"].rows

        return f"{await page.desk.read(write, after_saves=True)} entries exported to {folder}"

    _typed(page, "Export: the path of a new folder for CSV files and photos", read)


def merge(page: Page) -> None:
    """Take in the daybooks of another tester's exported folder."""

    async def read(text: str) -> str:
        folder = path_of(text, "a folder that was exported")

        def take(ledger: "Ledger") -> int:
            from qcledger.exchange import merge_folder

            return merge_folder(ledger, folder)

        new = await page.desk.save(take)
        return f"{new} new entries merged" if new else "0 new entries; this ledger has what the folder holds"

    _typed(page, "Merge: the folder that another tester has exported", read)


def _of_session(page: Page, what: str, write: "Callable[[Ledger, Session, Path], str]", *, saves: bool) -> None:
    """Ask for the code of a session and for a new file, then write it."""

    async def read(text: str) -> str:
        code, _, name = one_line(text).partition(" ")
        path = path_of(name, "a code and a new file, as in S05 sheet.html")

        def go(ledger: "Ledger") -> str:
            from qcledger.bench.named import session_of

            return write(ledger, session_of(ledger, code, ""), path)

        return await (page.desk.save(go) if saves else page.desk.read(go, after_saves=True))

    _typed(page, f"{what}: the session's code and a new file, as in S05 sheet.html", read)


def print_sheet(page: Page) -> None:
    """Write a run sheet to print."""

    def write(ledger: "Ledger", session: "Session", path: Path) -> str:
        from qcledger.report.printing import print_sheet

        return print_sheet(ledger, session, path)

    _of_session(page, "Run sheet", write, saves=False)


def print_strips(page: Page) -> None:
    """Write strips to fold; that they were printed is recorded."""

    def write(ledger: "Ledger", session: "Session", path: Path) -> str:
        from qcledger.report.printing import print_strips

        return print_strips(ledger, session, path, page.desk.now())

    _of_session(page, "Strips to fold, recorded", write, saves=True)


def print_stickers(page: Page) -> None:
    """Write stickers with their codes: those in use, some, or the next ones."""

    async def read(text: str) -> str:
        name, _, which = one_line(text).partition(" ")
        path = path_of(name, "a new file, as in stickers.html")
        word, _, count = which.strip().partition(" ")
        coming = int(count) if word == "next" and count.isdecimal() and 0 < int(count) <= 2000 else None

        def write(ledger: "Ledger") -> str:
            from qcledger.report.printing import print_stickers

            named = None if coming is not None else which.strip() or None
            return print_stickers(ledger, path, named=named, coming=coming)

        return await page.desk.read(write, after_saves=True)

    told = "Stickers: a new file, then which, as in stickers.html OV 0147-0160, or next 40; without, all in use"
    _typed(page, told, read)


def photo_folder(page: Page) -> None:
    """Set the folder that the newest picture is filed from."""

    async def read(text: str) -> str:
        folder = path_of(text, "the folder your camera or phone saves into")
        page.desk.settings = await asyncio.to_thread(name_photo_folder, folder)
        return f"photo folder set: {folder}; f files its newest picture"

    _typed(page, "Photo folder: where your camera or phone saves", read, page.desk.settings.photo_folder)


def rubric(page: Page) -> None:
    """Check a scale file and put it beside the others."""

    async def read(text: str) -> str:
        return await asyncio.to_thread(_keep_rubric, path_of(text, "a scale file, as in my_scales.yaml"))

    _typed(page, "Rubric: the path of a scale file, which is checked and copied beside the others", read)


def _keep_rubric(path: Path) -> str:
    from qcledger.files import read_plain
    from qcledger.rubric import parse

    text = read_plain(path, "a scale file", most=MOST_BYTES).decode("utf-8", "replace")
    found = parse(text, path.name)
    kept = own_rubrics() / f"{found.key}.yaml"
    if kept.exists():
        raise bad(str(kept), "a scale file there already", "another key in the file, or that one taken away")
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(text, encoding="utf-8")
    except OSError as error:
        raise bad(str(kept), error.strerror or "nothing", "a file that can be written") from error
    return f"rubric {found.key} is at hand, {len(found.criteria)} criteria: name it where a sheet begins"


def other_ledger(page: Page) -> None:
    """Leave this ledger once its saves are on disk, and open another one."""

    async def read(text: str) -> str:
        named = one_line(text)
        place = named if "://" in named else str(path_of(named, "a ledger file, or a database URL"))
        await asyncio.to_thread(_check_opens, place)
        setattr(page.app, "next_ledger", place)  # noqa: B010 - the program stands above its pages
        page.app.call_later(page.app.action_quit)
        return f"leaving for {place.rpartition('@')[2]}"

    _typed(page, "Another ledger: its file, or a database URL", read)


def _check_opens(place: str) -> None:
    from qcledger.ledger import Ledger

    Ledger.open(place).close()


JOBS: Final[dict[str, tuple[str, Callable[[Page], None]]]] = {
    "p": ("print a run sheet", print_sheet),
    "s": ("print strips to fold for a blind sheet", print_strips),
    "k": ("print stickers, each with a code a phone or scanner types back", print_stickers),
    "b": ("back up: ledger and photos, verified", back_up),
    "e": ("export everything as CSV files and photos", export),
    "m": ("merge another tester's exported folder", merge),
    "f": ("set the photo folder", photo_folder),
    "r": ("bring a rubric of your own", rubric),
    "l": ("open another ledger", other_ledger),
}
"""What there is to do, by the letter of its line."""


class InAndOut(ToRead[str]):
    """The list of `JOBS`; gives back the letter of one, or nothing for Esc."""

    BINDINGS = [("escape", "dismiss(None)", "back")]  # noqa: RUF012
    HOW = f"{' '.join(JOBS)}, or Esc"

    def lines(self) -> Iterator[Static]:
        """Yield a line a job."""
        yield Static(shown_line("In and out", "bold"), markup=False)
        for letter, (what, _) in JOBS.items():
            yield Static(Content.assemble((letter, "bold"), "  ", what), markup=False)
        yield Static("Esc closes.", markup=False, classes="faint")

    def on_key(self, event: Key) -> None:
        """Give back the letter of a line."""
        if event.character in JOBS:
            event.stop()
            self.dismiss(event.character)
        else:
            super().on_key(event)


def ask(page: Page) -> None:
    """Show what goes in and out, and do what is chosen."""

    def take(letter: Any) -> None:
        if letter in JOBS:
            JOBS[letter][1](page)

    page.app.push_screen(InAndOut(), take)
