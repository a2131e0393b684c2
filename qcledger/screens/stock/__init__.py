"""Stock: parcels, specimens, labels, what was found on unpacking, and a specimen's whole history."""

from qcledger.screens.stock.shelf import Stock

__all__ = ["Stock"]
