"""What a draft of the public page costs: many makers, formats and criteria, numbers alone.

`python -m tests.bench.bench_publish [MAKERS]` prints seconds, memory and bytes of each face, and how long a search of
the page's table takes in a browser, where there is one.
"""

import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

from qcledger.findings import Findings, read
from qcledger.public.faces import FACES
from qcledger.public.to_html import scorecard_html
from qcledger.public.view import PublicView
from qcledger.records import TestedRow
from qcledger.vocab import Format, Standing
from tests.findings.made import criterion, only, row
from tests.public import made

FORMATS = (Format.TUBE, Format.HALF_PAN, Format.FULL_PAN, Format.STICK, Format.BOTTLE)
CRITERIA = tuple(criterion(f"criterion_{n:02d}") for n in range(20))
LOTS, EACH = 2, 1
"""Lots of each maker's format, and specimens of each lot."""
FIRST = 'id="codes"'
"""Where the page's first screen has ended."""


def rows_of(makers: int) -> Iterator[TestedRow]:
    """Yield what was looked at: each specimen of each maker's format on every criterion, one maker in ten faulty."""
    for maker in range(makers):
        name = f"Maker {maker:03d}"
        for format_ in FORMATS:
            for lot in range(LOTS):
                for specimen in range(EACH):
                    one = row(maker=name, maker_name=name, format=format_, lot=f"{lot}", lot_code=f"L{maker}{lot}")
                    bad = maker % 10 == 0
                    for place, asked in enumerate(CRITERIA):
                        yield replace(
                            one,
                            criterion=asked.key,
                            observation=f"{one.observation}.{place}",
                            trial=f"{one.trial}.{place}",
                            grade=4.0 if bad and place == specimen else 0.0,
                        )


def found_of(makers: int) -> Findings:
    """Return findings of which every cell without a fault is none found, every other one settled or open in turn."""
    found = read(list(rows_of(makers)), only(*CRITERIA))
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
    main()
