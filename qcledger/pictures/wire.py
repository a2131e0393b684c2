"""What goes through the pipes between the program and its decoder: a few named values, and bytes."""

import json
import struct
from typing import IO, Any

_SIZES = struct.Struct(">II")


def send(stream: IO[bytes], values: dict[str, Any], content: bytes = b"") -> None:
    """Write one message."""
    head = json.dumps(values).encode()
    stream.write(_SIZES.pack(len(head), len(content)))
    stream.write(head)
    stream.write(content)
    stream.flush()


def receive(stream: IO[bytes]) -> tuple[dict[str, Any], bytes]:
    """Return one message; raises EOFError when the other side is gone."""
    head, content = _SIZES.unpack(_exactly(stream, _SIZES.size))
    values: dict[str, Any] = json.loads(_exactly(stream, head))
    return values, _exactly(stream, content)


def _exactly(stream: IO[bytes], size: int) -> bytes:
    content = stream.read(size)
    if len(content) != size:
        raise EOFError
    return content
