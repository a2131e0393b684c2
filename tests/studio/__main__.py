"""Remakes demo_ledger/: ``python -m tests.studio``."""

from tests.studio.make import DEMO, remake

remake()
print(f"{DEMO} made anew")
