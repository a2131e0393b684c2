"""What was paid: every piece that was bought, with what its parcel says of money."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from sqlalchemy import Connection, select

from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.queries import of_specimens, specimens, void_rows
from qcledger.ledger.tables import TABLE
from qcledger.records import ExchangeRate, PaidPiece, Specimen
from qcledger.vocab import Source

_OF_SPECIMEN = ("nominal_ml", "pack", "price_minor")
_OF_PARCEL = ("currency", "shipping_minor", "discount_minor", "tax_included", "tax_pct")
_TOLD = (
    "specimen", "sticker", "maker", "maker_name", "paint", "paint_name", "pigments", "format", "parcel", "seller",
    "bought_on",
)  # fmt: skip


def paid_pieces(connection: Connection, dry_g: Mapping[str, Decimal] | None = None) -> list[PaidPiece]:
    """Return the specimens that were bought and not taken out again, gifts aside, by sticker.

    `dry_g` says how many grams of dry paint were weighed in some of them, by their ids.
    """
    known, weighed = identity(connection), dry_g or {}
    told = specimens(connection, known, of_specimens().fetched(connection))
    money = _money(connection)
    countries, out = _countries(connection, known), void_rows(connection, Specimen.TABLE)
    rows = zip(told["source"], *(told[name] for name in _TOLD), strict=True)
    pieces = [dict(zip(_TOLD, row, strict=True)) for source, *row in rows if source is not Source.GIFT]
    return sorted(
        (
            PaidPiece(
                **piece,
                **money[piece["specimen"]],
                country=countries.get(piece["seller"]),
                dry_g=weighed.get(piece["specimen"]),
            )
            for piece in pieces
            if piece["specimen"] not in out
        ),
        key=lambda one: (one.sticker, one.specimen),
    )


def _money(connection: Connection) -> dict[str, dict[str, Any]]:
    """Return what a specimen and its parcel say of money, by the specimen's id."""
    specimen, parcel = TABLE["specimen"], TABLE["parcel"]
    wanted = select(specimen.c.id, *specimen.c[_OF_SPECIMEN], *parcel.c[_OF_PARCEL]).join(
        parcel, parcel.c.id == specimen.c.parcel
    )
    return {row.pop("id"): row for row in map(dict, connection.execute(wanted).mappings())}


def _countries(connection: Connection, known: Identity) -> dict[str, str]:
    """Return the country of each seller of whom one is kept, by what the seller is called now."""
    seller = TABLE["seller"]
    wanted = select(*seller.c["name", "country"]).where(seller.c.country.is_not(None)).order_by(seller.c.id.desc())
    return {known.seller(name): country for name, country in connection.execute(wanted)}


def exchange_rates(connection: Connection) -> list[ExchangeRate]:
    """Return the exchange rates that were not taken back, in the order of their days, then of their ids."""
    table = TABLE[ExchangeRate.TABLE]
    gone = void_rows(connection, ExchangeRate.TABLE)
    names = ("id", "on", "base", "quote", "rate", "source")
    wanted = select(*table.c[names]).order_by(table.c.on, table.c.id)
    return [ExchangeRate(**row) for row in connection.execute(wanted).mappings() if row["id"] not in gone]
