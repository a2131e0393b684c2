"""Pictures are decoded in a process of their own: its crash or silence is a refusal, and the next one is answered."""

import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from qcledger import pictures
from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.ledger import photos
from qcledger.ledger.preview import preview
from qcledger.pictures import apart, worker

HEIC = Path(__file__).parents[1] / "ledger" / "sample.heic"
FATAL = (251, 129)
"""Offset and value of a byte of the sample that let its decoder end the process with a segmentation fault."""


def damaged():
    """Return the sample with the byte that its decoder fails on."""
    content = bytearray(HEIC.read_bytes())
    content[FATAL[0]] = FATAL[1]
    return bytes(content)


def jpeg():
    """Return a small JPEG."""
    made = BytesIO()
    Image.new("RGB", (40, 30), (20, 90, 60)).save(made, "JPEG")
    return made.getvalue()


def test_a_picture_that_crashes_its_decoder_is_one_line(tmp_path):
    """One damaged byte of a HEIC: the file is refused by name, a filed one is said to be damaged."""
    path = tmp_path / "phone.heic"
    path.write_bytes(damaged())
    with pytest.raises(BadInput, match=r"phone\.heic: found 'a picture that its decoder fails on'"):
        photos.read_picture(path)
    with pytest.raises(LedgerUnavailable, match="This photo cannot be read"):
        preview(path, 20, 20)


def test_after_a_crash_the_next_picture_is_answered():
    """A crash is the affair of one picture: those before and after it are decoded."""
    for content in (jpeg(), damaged(), jpeg(), damaged(), damaged(), HEIC.read_bytes()):
        if content == damaged():
            with pytest.raises(pictures.Refused):
                pictures.look(content)
        else:
            assert pictures.look(content).kind in ("jpg", "heic")


def test_one_process_answers_many():
    """A batch of pictures of every kind begins no process for each."""
    decoder = apart.Decoder()
    decoder.ask({"what": "look"}, jpeg())
    first = decoder._process
    with pytest.raises(pictures.Refused):
        decoder.ask({"what": "look"}, b"no picture")
    for content in (jpeg(), HEIC.read_bytes(), jpeg()):
        decoder.ask({"what": "look"}, content)
    assert decoder._process is first
    decoder.end()
    assert first is not None
    assert first.poll() is not None


def asked(program, monkeypatch):
    """Return why a picture is refused when the decoder's process is this program."""

    def begun():
        return subprocess.Popen(
            [sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )

    monkeypatch.setattr(apart, "begun", begun)
    decoder = apart.Decoder()
    with pytest.raises(pictures.Refused) as refused:
        decoder.ask({"what": "look"}, jpeg())
    assert decoder._process is None
    return str(refused.value)


def test_a_decoder_that_is_silent_is_not_waited_for(monkeypatch):
    """Past its time the process is ended, and the picture refused."""
    monkeypatch.setattr(apart, "SECONDS", 0.2)
    assert asked("import time; time.sleep(3600)", monkeypatch) == apart.SLOW


@pytest.mark.parametrize("program", ["", "print('x' * 8)", "import os, signal; os.kill(os.getpid(), 9)"])
def test_a_decoder_that_answers_nonsense_is_a_crash(monkeypatch, program):
    """Whatever the process writes or leaves unwritten: the picture is refused."""
    assert asked(program, monkeypatch) == apart.CRASHED


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limits")
def test_the_decoder_takes_no_more_memory_than_allowed_and_writes_no_file(tmp_path):
    """In the process, memory past the limit and a file's first byte are refused by the system."""
    tried = (
        "import sys; from qcledger.pictures import worker; worker.limit()\n"
        "try: bytearray(worker.MOST_MEMORY)\n"
        "except MemoryError: print('no memory')\n"
        "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "try: open(sys.argv[1], 'wb', buffering=0).write(b'x')\n"
        "except OSError: print('no file')\n"
    )
    done = subprocess.run([sys.executable, "-c", tried, tmp_path / "x"], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n") == ["no memory", "no file", ""]
    assert worker.MOST_MEMORY < 2 * 1024**3


def test_the_decoder_imports_nothing_from_the_folder_it_is_begun_in(tmp_path, monkeypatch):
    """Modules that lie in somebody's folder are not run, whatever they are called."""
    for name in ("PIL", "json", "qcledger", "struct"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()")
    monkeypatch.chdir(tmp_path)
    decoder = apart.Decoder()
    try:
        assert decoder.ask({"what": "look"}, jpeg())[0]["kind"] == "jpg"
    finally:
        decoder.end()
    assert not (tmp_path / "ran").exists()


def test_the_program_itself_loads_no_decoder():
    """Opening a ledger and looking at a picture leaves the imaging library to the other process."""
    tried = (
        "import sys; from qcledger.ledger import Ledger; from qcledger import pictures\n"
        f"pictures.look(open({str(HEIC)!r}, 'rb').read())\n"
        "print('PIL' in sys.modules, 'pi_heif' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", tried], capture_output=True, text=True, check=True)
    assert done.stdout == "False False\n"
