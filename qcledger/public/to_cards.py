"""Supporters' cards as a page to print, in millimetres: four on a sheet of A4 or letter, with lines to cut by."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from qcledger.public.to_html import page

if TYPE_CHECKING:
    from qcledger.public.cards import PrintedCard

PAPERS: Final = {"A4": "a4", "letter": "letter"}
"""What is printed on, and how the page says so."""
ON_SHEET: Final = 4


def cards_html(cards: "Sequence[PrintedCard]", paper: str, address: str = "") -> str:
    """Return cards as one page.

    Parameters
    ----------
    cards
        What is printed.
    paper
        Of `PAPERS`.
    address
        Where readers find the newest edition; empty where there is none yet.
    """
    sheets = [cards[first : first + ON_SHEET] for first in range(0, len(cards), ON_SHEET)]
    return page("cards.html", "cards.css", sheets=sheets, paper=PAPERS[paper], address=address)
