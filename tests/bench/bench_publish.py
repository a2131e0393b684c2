"""What a draft of the public page costs: many makers, formats and criteria, with numbers alone or with photos.

`python -m tests.bench.bench_publish [MAKERS]` prints seconds, memory and bytes of each face, and how long a search of
the page's table takes in a browser, where there is one.

`python -m tests.bench.bench_publish MAKERS PHOTOS` does it with so many photos of 12 megapixels that every statement
shows as many as it may: once until it is stopped, a first time, and again, each in a process of its own. A few photos
are made; the others are these with other quantization tables, so that each has bytes and pixels of its own and costs
a decoder what a camera's would. What was printed by hand is kept in ``publish.txt``.
"""

import hashlib
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

from qcledger.findings import Findings, read
from qcledger.public import place
from qcledger.public.faces import FACES
from qcledger.public.from_findings import PublicRules
from qcledger.public.gather import MOST_PHOTOS, LedgerPhotos, heard
from qcledger.public.to_html import scorecard_html
from qcledger.public.view import PublicView
from qcledger.records import Photo, Record, TestedRow
from qcledger.settings import HOME_VARIABLE
from qcledger.vocab import Format, Standing
from tests.bench import bench_photos
from tests.findings.made import criterion, only, row
from tests.public import made

FORMATS = (Format.TUBE, Format.HALF_PAN, Format.FULL_PAN, Format.STICK, Format.BOTTLE)
CRITERIA = tuple(criterion(f"criterion_{n:02d}") for n in range(20))
LOTS, EACH = 2, 1
"""Lots of each maker's format, and specimens of each lot."""
FIRST = 'id="codes"'
"""Where the page's first screen has ended."""


def rows_of(makers: int, one_in: int = 10) -> Iterator[TestedRow]:
    """Yield what was looked at: each specimen of each maker's format on every criterion, one maker in some faulty."""
    for maker in range(makers):
        name = f"Maker {maker:03d}"
        for format_ in FORMATS:
            for lot in range(LOTS):
                for specimen in range(EACH):
                    one = row(maker=name, maker_name=name, format=format_, lot=f"{lot}", lot_code=f"L{maker}{lot}")
                    bad = maker % one_in == 0
                    for at, asked in enumerate(CRITERIA):
                        yield replace(
                            one,
                            criterion=asked.key,
                            observation=f"{one.observation}.{at}",
                            trial=f"{one.trial}.{at}",
                            grade=4.0 if bad and at == specimen else 0.0,
                        )


def found_of(makers: int, one_in: int = 10) -> Findings:
    """Return findings of which every cell without a fault is none found, and every other one settled."""
    found = read(list(rows_of(makers, one_in)), only(*CRITERIA))
    told = (
        made.settled(one) if one.counts.faulty else replace(one, standing=Standing.NONE_FOUND)
        for one in found.findings
    )
    return replace(found, findings=tuple(told))


def draft(found: Findings) -> tuple[PublicView, str]:
    """Return the view and its page."""
    view = made.view(found)
    return view, scorecard_html(view, {})


def searched(page: str) -> str:
    """Return the milliseconds that a search takes in a browser, or why nothing is told."""
    chromium = shutil.which("chromium")
    if chromium is None:
        return "no chromium"
    probe = (
        "<script>var box=document.getElementById('find');var t=performance.now();box.value='maker 017';"
        "box.dispatchEvent(new Event('input'));document.body.offsetHeight;"
        "document.title='took '+Math.round(performance.now()-t)</script></body>"
    )
    open_ = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page).replace("</body>", probe)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "page.html"
        file.write_text(open_, encoding="utf-8")
        flags = ("--headless=new", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/profile", "--dump-dom")
        done = subprocess.run([chromium, *flags, f"file://{quote(str(file))}"], capture_output=True, text=True)
        took = re.search(r"<title>took (\d+)</title>", done.stdout)
        return f"{took[1]} ms" if took else "not measured"


# With photos

MADE = 20
"""Photos that are made anew."""


class Filed:
    """What `LedgerPhotos` asks of a ledger: photos filed with observations, and where their files are."""

    def __init__(self, folder: Path, observations: list[str]) -> None:
        self._folder = folder
        files = sorted(folder.glob("*.jpg"))
        each = len(files) // len(observations)
        self._photos = [
            Photo(
                id=f"p{n}", sha256=file.stem, kind="jpg", width=4000, height=3000, observation=observations[n // each]
            )
            for n, file in enumerate(files[: each * len(observations)])
        ]

    def rows(self, _: type[Record]) -> list[Photo]:
        """Return the photos."""
        return self._photos

    def photo_path(self, photo: Photo) -> Path:
        """Return the file of a photo."""
        return self._folder / f"{photo.sha256}.jpg"


def others(content: bytes, count: int) -> Iterator[bytes]:
    """Yield a JPEG as often as wanted, each time with another factor somewhere in its first quantization table."""
    table = content.index(b"\xff\xdb") + 5
    for n in range(count):
        copy = bytearray(content)
        copy[table + n % 8] = max(1, (copy[table + n % 8] + 1 + n // 8) % 256)
        yield bytes(copy)


def make_photos(folder: Path, count: int) -> float:
    """Put photos of 12 megapixels into a folder under their SHA-256; return the mean size of one in MB."""
    folder.mkdir()
    for number in range(MADE):
        for content in others(bench_photos.photo(number), count // MADE):
            (folder / f"{hashlib.sha256(content).hexdigest()}.jpg").write_bytes(content)
    sizes = [one.stat().st_size for one in folder.iterdir()]
    return sum(sizes) / len(sizes) / 1e6


class StoppedThere(Exception):
    """Somebody had enough."""


def _draft_with(home: Path, makers: int, one_in: int, going_on: Callable[[], None]) -> None:
    """Write a draft with its photos as the command does, and print what it cost."""
    found = found_of(makers, one_in)
    faulty = [unit.row.observation for one in found.findings for lot in one.lots for unit in lot.units if unit.faulty]
    begun = time.perf_counter()
    photos = LedgerPhotos(Filed(home / "photos", faulty))  # type: ignore[arg-type]  # what it asks of a ledger
    page = home / "card.html"
    try:
        photos.make(found, PublicRules(), heard(going_on))
        view = made.view(found, photos=photos.of, copied=photos.copied)
        larger = place.larger(photos.files, heard(going_on))
        place.write(page, scorecard_html(view, photos.copies, place.folder_of(page)), larger, force=True)
    except StoppedThere:
        left = [one.name for one in home.iterdir() if one.name.startswith("card")]
        print(f"stopped after {time.perf_counter() - begun:.1f} s; left behind: {left or 'nothing'}")
        return
    took = time.perf_counter() - begun
    most = max(len(one.photos) for one in view.statements)
    folder = page.parent / place.folder_of(page)
    print(
        f"{took:.0f} s for {len(photos.files)} photos beside {len(view.statements)} statements, at most {most} each; "
        f"page {page.stat().st_size / 1e6:.2f} MB, folder of {len(list(folder.iterdir()))} photos "
        f"{sum(one.stat().st_size for one in folder.iterdir()) / 1e6:.0f} MB"
    )
    _say_memory()


def _say_memory() -> None:
    """Print the most memory that this process and the decoder's held."""
    from qcledger.pictures import apart

    apart._decoder.end()  # its memory is told only once it has ended
    ours, decoder = (
        resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"most memory {ours:.0f} MB, decoder {decoder:.0f} MB")


def stopping(after: int) -> Callable[[], None]:
    """Return what raises `StoppedThere` when it is called once more than `after` times."""
    calls = iter(range(after))

    def going_on() -> None:
        if next(calls, None) is None:
            raise StoppedThere

    return going_on


def with_photos(makers: int, count: int) -> None:
    """Measure drafts with photos: stopped, a first time, and again."""
    needed = count // (MOST_PHOTOS * len(FORMATS))
    one_in = max(1, makers // needed)
    with tempfile.TemporaryDirectory() as home:
        size = make_photos(Path(home) / "photos", count)
        print(f"{makers} makers x {len(FORMATS)} formats x {len(CRITERIA)} criteria, {count} photos of {size:.1f} MB")
        for which, stop in (("stopped", "20"), ("first", ""), ("again", "")):
            load = os.getloadavg()[0]
            command = [
                sys.executable,
                "-m",
                "tests.bench.bench_publish",
                "--of",
                home,
                str(makers),
                str(one_in),
                stop,
            ]
            done = subprocess.run(
                command, check=True, capture_output=True, text=True, env={**os.environ, HOME_VARIABLE: home}
            )
            print(f"{which} (load {load:.1f} before): {done.stdout.strip()}", flush=True)


def main() -> None:
    """Print what a draft costs."""
    makers = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begun = time.perf_counter()
    found = found_of(makers)
    counted = time.perf_counter()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    view, page = draft(found)
    drawn = time.perf_counter()
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{makers} makers x {len(FORMATS)} formats x {len(CRITERIA)} criteria: {len(view.cells)} cells")
    print(f"counting {counted - begun:.1f} s; draft {drawn - counted:.1f} s, {(after - before) / 1024:.0f} MB more")
    print(f"page {len(page.encode()) / 1e6:.2f} MB, first screen {page.index(FIRST) / 1e3:.0f} kB")
    for name, face in FACES.items():
        print(f"{name} {len(face(view).encode()) / 1e6:.2f} MB")
    print(f"search {searched(page)}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--of"]:
        at, many, every, after = sys.argv[2:]
        _draft_with(Path(at), int(many), int(every), stopping(int(after)) if after else lambda: None)
    elif len(sys.argv) > 2:
        with_photos(int(sys.argv[1]), int(sys.argv[2]))
    else:
        main()
