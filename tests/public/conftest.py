"""The demo's public view, made once in a process."""

from datetime import UTC, datetime

import pytest

from qcledger.ledger import Ledger
from qcledger.ledger.sources import Sources
from qcledger.settings import HOME_VARIABLE

ON_THE_DAY = Sources(now=lambda: datetime(2026, 11, 30, 12, tzinfo=UTC))
"""The demo goes out on one day: some of its makers still have time to answer then, and others do not."""


@pytest.fixture(scope="session")
def demo_found(demo_file, demo_home):
    """Return the findings of the demo, worked out."""
    from qcledger.report.kept import KeptFindings

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(HOME_VARIABLE, str(demo_home))
        with Ledger.open(demo_file) as ledger:
            reading = KeptFindings().reading(ledger)
            reading.take_in()
            assert reading.open == 0
            return reading.whole


@pytest.fixture(scope="session")
def demo_gathered(demo_file, demo_found):
    """Return the draft of the demo, with its photos."""
    from qcledger.public.gather import gather
    from qcledger.public.view import Edition
    from qcledger.records import Comparison

    with Ledger.open(demo_file, sources=ON_THE_DAY) as ledger:
        (comparison,) = ledger.rows(Comparison, title="Nine makers, shared colours")
        return gather(ledger, demo_found, Edition(0, ledger.day(), "OV"), comparison)
