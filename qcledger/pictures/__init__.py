"""Pictures, decoded in a process of their own: hostile bytes may crash a decoder, and then only that process ends."""

from qcledger.pictures.apart import Looked, Refused, look, squares

__all__ = ["Looked", "Refused", "look", "squares"]
