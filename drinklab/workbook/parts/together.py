"""What carries all that one move changes to the page in one message (see `workbook.comms`)."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets

from ..comms import PageComm


class Together(anywidget.AnyWidget):
    """Nothing to see: it hands on what it is told to the widgets of its page, once the page has said that it can."""

    _esm = Path(__file__).with_name("together.js").read_text(encoding="utf-8")
    ready = traitlets.Bool().tag(sync=True)
    _shared: Together | None = None

    @classmethod
    def begin(cls) -> None:
        """Have one for this kernel."""
        if cls._shared is None or cls._shared.comm is None:
            PageComm.carrier = None
            cls._shared = cls()

    @traitlets.observe("ready")
    def _carries(self, _) -> None:
        PageComm.carrier = self.comm if isinstance(self.comm, PageComm) else None

    def close(self) -> None:
        """Carry nothing any more."""
        PageComm.carrier = None
        super().close()
