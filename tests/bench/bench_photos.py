"""What reduced copies of a page's photos cost the first time and again, and the most memory held meanwhile.

Run: ``python -m tests.bench.bench_photos [PHOTOS]`` (40 by default, of 12 megapixels)

It measures as many photos as it is told, small and larger copies, written into the folder beside a page; what 2,000
would take is worked out from that and says so.
"""

import hashlib
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from qcledger.settings import HOME_VARIABLE

SIZE = (4000, 3000)
"""Width and height in px: 12 megapixels."""
WHOLE = 2000


def photo(number: int) -> bytes:
    """Return a JPEG of noise over a wash, about as large as a camera's."""
    from io import BytesIO

    from PIL import Image, ImageFilter

    grain = random.Random(number).randbytes(SIZE[0] * SIZE[1] // 16)
    small = Image.frombytes("L", (SIZE[0] // 4, SIZE[1] // 4), grain).filter(ImageFilter.GaussianBlur(1))
    out = BytesIO()
    Image.merge("RGB", [small.resize(SIZE).rotate(turn) for turn in (0, 90, 180)]).save(out, "JPEG", quality=92)
    return out.getvalue()


def run(folder: Path) -> None:
    """Make the copies of all photos of a folder and write the larger ones; print seconds and megabytes."""
    from qcledger.public import place
    from qcledger.public.photos import KeptCopies

    begun, kept = time.perf_counter(), KeptCopies()
    small = {path: kept.copy(path, "jpg") for path in sorted(folder.glob("*.jpg"))}
    files = {copy.sha256: (path, "jpg") for path, copy in small.items() if copy is not None}
    place.write(folder.parent / "card.html", "a page", place.larger(files), force=True)
    peaks = [resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    from qcledger.pictures import apart

    apart._decoder.end()  # its memory is told only once it has ended
    peaks[1] = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(time.perf_counter() - begun, *peaks)


def main(photos: int) -> None:
    """Measure a first and a second time, each in a process of its own."""
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "photos"
        folder.mkdir()
        size = 0
        for number in range(photos):
            content = photo(number)
            size += len(content)
            (folder / f"{hashlib.sha256(content).hexdigest()}.jpg").write_bytes(content)
        print(f"{photos} photos of 12 megapixels, {size / photos / 1e6:.1f} MB each")
        for which in ("first", "again"):
            command = [sys.executable, "-m", "tests.bench.bench_photos", "--of", str(folder)]
            done = subprocess.run(
                command, check=True, capture_output=True, text=True, env={**os.environ, HOME_VARIABLE: home}
            )
            seconds, ours, decoder = map(float, done.stdout.split())
            whole = seconds / photos * WHOLE
            print(
                f"{which}: {seconds:.1f} s, {seconds / photos * 1000:.0f} ms each; "
                f"for {WHOLE} worked out from that {whole:.0f} s; most memory {ours:.0f} MB, decoder {decoder:.0f} MB"
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--of"]:
        run(Path(sys.argv[2]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
