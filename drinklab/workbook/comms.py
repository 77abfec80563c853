"""The lines between a kernel's widgets and their page: silent while there is no page, and one message for one move.

A moved slider changes ten widgets or more. Told one by one, each costs the server, the page and the picture of the
page about as much as all of them together; so what one move changes goes to the page in one message (`together`),
carried by a widget of the page (`parts.together`).
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from comm.base_comm import BaseComm as Line
from ipykernel.comm.comm import BaseComm
from ipykernel.kernelbase import Kernel


class PageComm(BaseComm):
    """A line to the page."""

    alone = False  # whether there is no page yet
    carrier: Line | None = None  # the line of the widget that hands on what it is told to the others
    _waiting: list[tuple[str, dict]] | None = None  # what is to be told together: whom, and how it is now

    def publish_msg(self, msg_type: str, data: Any = None, metadata: Any = None, buffers: Any = None, **keys: Any):
        """Tell the page, at once or with the rest of a move."""
        self.kernel = Kernel.instance()  # widgets say nothing on a line without one
        method = data.get("method") if msg_type == "comm_msg" and data else None
        if PageComm.alone or (PageComm._waiting is not None and method == "echo_update"):
            return  # what the page itself has changed it knows: each page has its own kernel
        if PageComm._waiting is not None and method == "update" and not buffers:
            PageComm._waiting.append((self.comm_id, data["state"]))
            return
        tell()  # so that the page hears everything in its order
        super().publish_msg(msg_type, data, metadata, buffers, **keys)


def tell() -> None:
    """Tell the page what waits, so that it is drawn while the rest is worked out."""
    if waiting := PageComm._waiting:
        PageComm._waiting = []
        PageComm.carrier.send({"method": "custom", "content": waiting})


@contextlib.contextmanager
def together() -> Iterator[None]:
    """What widgets tell the page meanwhile is told at the end, in one message, if the page can take it so."""
    if PageComm.carrier is None or PageComm._waiting is not None:
        yield
        return
    PageComm._waiting = []
    try:
        yield
    finally:
        try:
            tell()
        finally:
            PageComm._waiting = None
