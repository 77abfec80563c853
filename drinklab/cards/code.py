"""A label's square code: plain text that a phone reads without any network, never an address.

>>> one = code("Down Train. Made 2027-01-30.")
>>> one.modules, one.side
(29, 14.8)
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError, Told
from ..texts import NAME

# ISO/IEC 18004:2015 (from memory): a code stands in a margin of four modules. How large a module must be for a phone
# at arm's length is common practice, no published source. [modules, mm]
MARGIN, MODULE = 4, 0.4
_MOST = 300  # letters: what is longer makes a code larger than any label


@dataclass(frozen=True, slots=True)
class Code:
    """The text of a code, and its dark squares."""

    text: str
    rows: tuple[bytes, ...]

    @property
    def modules(self) -> int:
        """Along a side, without the margin."""
        return len(self.rows)

    @property
    def whole(self) -> int:
        """Along a side, with the margin."""
        return self.modules + 2 * MARGIN

    @property
    def side(self) -> float:
        """Of the square in print, margin and all. [mm]"""
        return round(self.whole * MODULE, 3)

    @property
    def path(self) -> str:
        """The dark squares as the path of an SVG, a unit a module: each run of a row once."""
        runs = []
        for y, row in enumerate(self.rows):
            x = 0
            while (start := row.find(1, x)) >= 0:
                end = row.find(0, start)
                x = len(row) if end < 0 else end
                runs.append(f"M{start + MARGIN} {y + MARGIN}h{x - start}v1h{start - x}z")
        return "".join(runs)


def code(text: str) -> Code:
    """A square code of a text, of which 15 % may be lost to a wet finger and it still reads.

    Raises
    ------
    InputError
        For what is too long, or an address that a phone would open.
    """
    import segno  # loads on first use

    if "://" in text or text.casefold().startswith(("www.", "mailto:", "tel:")):
        raise InputError("text of the code", text[:NAME], "plain text, no address")
    if len(text) > _MOST:
        raise InputError("text of the code", Told(f"{len(text)} letters long"), f"at most {_MOST}")
    made = segno.make_qr(text, error="m", boost_error=False, encoding="utf-8")
    return Code(text, tuple(map(bytes, made.matrix)))
