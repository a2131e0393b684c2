"""Digits behind the decimal mark of currencies, held against another table of ISO 4217's minor units.

Read on 2026-12-01 in the locale sources of the GNU C library 2.36 (Debian 2.36-9), `int_curr_symbol` and
`int_frac_digits`, which follow the standard; those of BHD, JOD, JPY and USD also in excerpts of the maintenance
agency's list one (`CcyMnrUnts`).
"""

from qcledger.vocab import CURRENCY_DIGITS

READ = {
    0: "ISK JPY KRW",
    2: "AUD CAD CHF CNY CZK DKK EUR GBP HKD HUF INR MXN NOK NZD PLN RON SEK SGD TRY TWD USD ZAR",
    3: "BHD JOD KWD TND",
}


def test_minor_units_are_those_of_the_standard():
    """Every currency that prices may be in has the digits that stand there.

    Source: ISO 4217:2015 as the GNU C library 2.36 of 2022 carries it [read].
    """
    assert {code: digits for digits, codes in READ.items() for code in codes.split()} == CURRENCY_DIGITS
