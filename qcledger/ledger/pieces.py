"""What was bought, piece by piece, whether or not anything of it was looked at."""

from sqlalchemy import Connection, select

from qcledger.ledger.identity import identity, united_lots
from qcledger.ledger.queries import is_blind, void_rows
from qcledger.ledger.tables import TABLE
from qcledger.records import Maker, Piece, Specimen
from qcledger.vocab import Source, SpecimenState

_TO_HAND = (SpecimenState.UNOPENED, SpecimenState.OPENED)


def bought_pieces(connection: Connection) -> list[Piece]:
    """Return the specimens that were bought and not taken out again, gifts aside, by sticker."""
    specimen, paint, row = TABLE["specimen"], TABLE["paint"], TABLE["run_row"]
    known = identity(connection)
    lots = united_lots(connection, known)
    out = void_rows(connection, Specimen.TABLE)
    coded = set(connection.execute(select(row.c.specimen).where(is_blind(row.c.session))).scalars())
    wanted = (
        select(*specimen.c["id", "sticker", "format", "parcel", "lot", "state"], paint.c.maker)
        .select_from(specimen.join(paint, paint.c.id == specimen.c.paint))
        .where(specimen.c.source != Source.GIFT)
        .order_by(specimen.c.sticker, specimen.c.id)
    )
    return [
        Piece(
            specimen=one.id,
            sticker=one.sticker,
            maker=known.one(Maker.TABLE, one.maker),
            format=one.format,
            parcel=one.parcel,
            lot=lots.get(one.lot, (one.lot, ""))[0],
            to_hand=one.state in _TO_HAND and one.id not in coded,
        )
        for one in connection.execute(wanted)
        if one.id not in out
    ]
