"""Exchange rates: one unit of a currency bought so many of another, on a day, by a named source."""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal

from qcledger import figures
from qcledger.bench import typed
from qcledger.errors import bad
from qcledger.records import ExchangeRate
from qcledger.settings import Settings

FIELDS = ("on", "base", "quote", "rate", "source")


def read_rate(
    values: Mapping[str, str],
    today: date,
    settings: Settings,
    *,
    new_id: Callable[[], str],
    before: ExchangeRate | None = None,
) -> ExchangeRate:
    """Return the rate that a form says, kept with the digits it was typed with.

    Parameters
    ----------
    values
        What was typed, by the names of `FIELDS`.
    today, settings
        For the day and the decimal mark.
    new_id
        Makes the id of a new rate.
    before
        The rate that this one amends.

    Raises
    ------
    BadInput
        With each field that cannot be read.
    """
    form = typed.FormReader(values)
    on = form.read("on", lambda text, where: figures.past_day(text, where, today, settings.dates), default=today)
    base = form.must("base", figures.currency, default="")
    quote = form.must("quote", lambda text, where: _another(text, where, base), default="")
    rate = form.must(
        "rate", lambda text, where: figures.amount(text, where, settings.decimal_mark), default=Decimal(1)
    )
    source = form.must("source", typed.name, default="")
    form.done()
    return ExchangeRate(id=before.id if before else new_id(), on=on, base=base, quote=quote, rate=rate, source=source)


def _another(text: str, where: str, base: str) -> str:
    found = figures.currency(text, where)
    if found == base:
        raise bad(where, text, f"another currency than {base}")
    return found


def rate_words(one: ExchangeRate, mark: str = ".") -> str:
    """Return a rate in words: ``1 EUR = 0.85 GBP (bank's list)``."""
    return f"1 {one.base} = {str(one.rate).replace('.', mark)} {one.quote} ({one.source})"
