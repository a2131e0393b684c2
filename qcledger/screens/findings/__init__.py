"""How far each fault reaches, and why."""

from qcledger.screens.findings.opening import FindingsOpening
from qcledger.screens.findings.page import FindingsPage

__all__ = ["FindingsOpening", "FindingsPage"]
