"""``qcledger export``: the whole ledger as files that anything can read."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say_closing, tell


@click.command()
@click.argument("folder", type=PathInUtf8())
@ledger_option
@click.option("--force", is_flag=True, help="Replace an exchange folder that stands there.")
def export(folder: Path, where: str | None, force: bool) -> None:
    """Write the whole ledger as a folder of CSV files and photos.

    FOLDER is made new: a CSV file for each table, entries.csv with every daybook, the photos, a manifest with their
    hashes, and a README.md that says what each column means and how findings are counted. `qcledger merge` takes it
    into another ledger without a change.
    """
    from qcledger.exchange import to_folder
    from qcledger.exchange.manifest import PHOTOS

    with open_ledger(where) as ledger:
        written = to_folder(ledger, folder, force=force, progress=shown)
        rows = sum(kept.rows or 0 for name, kept in written.files.items() if name != "entries.csv")
        photos = sum(name.startswith(f"{PHOTOS}/") for name in written.files)
        tell(f"{written.files['entries.csv'].rows} entries, {rows} rows, {photos} photos in")
        tell(f"  {folder}")
        say_closing(ledger, written.closing)
