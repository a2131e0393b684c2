"""How far each fault reaches, and why."""

from qcledger.screens.findings.page import Findings

__all__ = ["Findings"]
