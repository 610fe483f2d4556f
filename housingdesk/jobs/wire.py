"""Values over a pipe, big arrays apart, so that neither side copies them more than it must."""

from __future__ import annotations

import pickle
from multiprocessing.connection import Connection
from typing import Any


def send(pipe: Connection, value: object) -> None:
    """Send a value; arrays in it travel as raw bytes after its pickle.

    Raises
    ------
    OSError : the other side is gone.
    """
    buffers: list[pickle.PickleBuffer] = []
    head = pickle.dumps(value, protocol=5, buffer_callback=buffers.append)
    pipe.send_bytes(pickle.dumps((head, len(buffers))))
    for buffer in buffers:
        pipe.send_bytes(buffer.raw())


def receive(pipe: Connection) -> Any:
    """Return the next value; its arrays are read-only.

    Raises
    ------
    EOFError, OSError : the other side is gone, also half way through a value.
    """
    head, count = pickle.loads(pipe.recv_bytes())
    return pickle.loads(head, buffers=[pipe.recv_bytes() for _ in range(count)])
