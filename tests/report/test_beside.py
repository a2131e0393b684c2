"""Work beside the pages: a process of its own, its news, and its end."""

import io
import sys
from types import SimpleNamespace

import pytest

from qcledger.ledger import Ledger
from qcledger.report.beside import Beside, work_out
from qcledger.report.kept import KeptFindings
from qcledger.settings import error_log
from tests.small import graded, small_ledger


class Pipe:
    """Takes what the process would send."""

    def __init__(self):
        self.sent = []

    def send(self, told):
        """Take one."""
        self.sent.append(told)


def test_the_process_keeps_every_answer_and_tells_how_far_it_is(home, tmp_path, monkeypatch):
    """What another reading of the same ledger misses is on disk afterwards."""
    monkeypatch.setattr("qcledger.report.beside.os.nice", lambda by: 0)
    monkeypatch.setattr("qcledger.report.beside.signal.signal", lambda *args: None)
    small = graded(small_ledger(tmp_path))
    with small.open() as ledger:
        missing = KeptFindings().reading(ledger).open
        assert missing
        pipe = Pipe()
        work_out(ledger.where, None, pipe)
        assert pipe.sent[:missing] == [("Pooled model", done, missing) for done in range(missing)]
        assert KeptFindings().reading(ledger).open == 0


def test_a_ledger_that_is_gone_ends_it_with_a_line_in_the_log(home, tmp_path, monkeypatch):
    """Nobody reads what it would print: the pages go on, and the log tells why nothing came."""
    monkeypatch.setattr("qcledger.report.beside.os.nice", lambda by: 0)
    monkeypatch.setattr("qcledger.report.beside.signal.signal", lambda *args: None)
    pipe = Pipe()
    work_out(tmp_path / "none.sqlite", None, pipe)
    assert pipe.sent == []
    assert "LedgerUnavailable" in error_log().read_text(encoding="utf-8")


def test_where_a_process_cannot_yield_it_works_all_the_same(home, tmp_path, monkeypatch):
    """There is no `nice` on Windows; the answers come there, too."""
    monkeypatch.delattr("qcledger.report.beside.os.nice")
    monkeypatch.setattr("qcledger.report.beside.sys.platform", "win32")
    monkeypatch.setattr("qcledger.report.beside.signal.signal", lambda *args: None)
    small = graded(small_ledger(tmp_path))
    with small.open() as ledger:
        work_out(ledger.where, None, Pipe())
        assert KeptFindings().reading(ledger).open == 0


def test_what_was_not_answered_is_not_asked_for_twice(home, tmp_path, monkeypatch):
    """A process that ends without an answer is not begun again and again; asked anew, it is."""
    monkeypatch.setattr("qcledger.report.beside.work_out", print)
    small = graded(small_ledger(tmp_path))
    with small.open() as ledger:
        reading, beside = KeptFindings().reading(ledger), Beside()
        assert beside.told == ""
        assert beside.begin(tmp_path / "none.sqlite", None, reading)
        assert beside.running
        assert beside.told == "pooled model begins"
        assert not beside.begin(tmp_path / "none.sqlite", None, reading)
        beside._process.join(30)
        assert not beside.news()
        assert not beside.running
        assert not beside.begin(tmp_path / "none.sqlite", None, reading)
        beside.stop(again=True)
        assert beside.begin(tmp_path / "none.sqlite", None, reading)
        process = beside._process
        beside.stop()
        assert not process.is_alive()


def test_ledger_is_only_read(home, tmp_path):
    """The reading that a process makes needs no right to write."""
    small = graded(small_ledger(tmp_path))
    with Ledger.open(small.open().where) as ledger:
        before = ledger.closing_hashes()
        KeptFindings().reading(ledger).work_out()
        assert ledger.closing_hashes() == before


def test_the_process_gets_a_stderr_with_a_file(monkeypatch):
    """Within the pages stderr is a stand-in without a file, with which no process can be started."""
    began = []

    class Process:
        """Tells whether a process could be given this stderr."""

        def __init__(self, **given):
            self.given = given

        def start(self):
            """Fail as the start of a real one does where there is no file."""
            began.append(sys.stderr.fileno())

        def is_alive(self):
            return False

    pipes = (SimpleNamespace(close=lambda: None),) * 2
    fake = SimpleNamespace(Pipe=lambda duplex: pipes, Process=Process)
    monkeypatch.setattr("qcledger.report.beside.get_context", lambda kind: fake)
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with pytest.raises(io.UnsupportedOperation):
        sys.stderr.fileno()
    reading = SimpleNamespace(asked={"froth": SimpleNamespace(key="k")}, worries={})
    assert Beside().begin("place", None, reading)
    assert began == [sys.__stderr__.fileno()]
