"""The public page before it goes out: what is missing, what goes with it, its draft and its editions."""

from qcledger.screens.publishing.page import PublishPage

__all__ = ["PublishPage"]
