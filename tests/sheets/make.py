"""Makes the sheets of this folder and their truths: `python -m tests.sheets.make`, in an environment with odfpy.

The same seeds give the same cells. What is made is kept as it is; a kind of sheet that is missing gets a new number.
"""

from hashlib import sha256

from tests.sheets import in_joined, in_notes, in_ods, in_text, in_workbooks
from tests.sheets.book import FOLDER


def main() -> None:
    """Make all of them, and the list of their hashes."""
    books = [book for one in (in_text, in_workbooks, in_joined, in_ods, in_notes) for book in one.write()]
    names = sorted(name for book in books for name in (book.name, f"{book.name.rpartition('.')[0]}.truth.csv"))
    lines = [f"{sha256((FOLDER / name).read_bytes()).hexdigest()}  {name}\n" for name in names]
    (FOLDER / "SHA256SUMS").write_text("".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
