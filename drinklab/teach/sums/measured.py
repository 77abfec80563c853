"""Own measurements: solutions by `measured`, and what comes out by each known mistake."""

from __future__ import annotations

from ... import measured as _measured
from ...kinds import CONCENTRATION, Amount, Kind

DAYS = Kind("days", "day")
PLAIN = Kind("", "dimensionless")
HALF_LIFE = 30.0  # of a juice, as the lab has it [days]

# --- the table and your own reading ------------------------------------------------------------------------


def own_reading(table: float, wide: float, reading: float, narrow: float) -> dict[str, Amount]:
    """A table's figure joined with a reading, each with its ±."""
    made = _measured.joined(table, wide, [_measured.Reading(reading, narrow)], own_share=0.0)
    far, near = wide * wide, narrow * narrow
    return {
        "far": PLAIN(far), "near": PLAIN(near), "both": PLAIN(far + near), "share": PLAIN(far / (far + near)),
        "away": CONCENTRATION(reading - table), "joined": CONCENTRATION(made.value),
    }  # fmt: skip


def plain_mean(table: float, reading: float) -> float:
    """The mean of both, as if both were as sure."""
    return (table + reading) / 2


def not_squared(table: float, wide: float, reading: float, narrow: float) -> float:
    """Weighed by the ± and not by its square."""
    return table + (reading - table) * wide / (wide + narrow)


# --- an old reading ------------------------------------------------------------------------------------------


def old_reading(table: float, reading: float, days: float) -> dict[str, Amount]:
    """What a sure reading of some days ago says of today's juice: half as much each thirty days."""
    made = _measured.joined(table, 1.0, [_measured.Reading(reading, 1e-4, days)], HALF_LIFE)
    halvings = days / HALF_LIFE
    return {
        "halvings": PLAIN(halvings), "away": CONCENTRATION(reading - table), "parts": PLAIN(2**halvings),
        "left": CONCENTRATION((reading - table) / 2**halvings), "now": CONCENTRATION(made.value),
    }  # fmt: skip


def as_fresh(reading: float) -> float:
    """The old reading as if it were of today."""
    return reading


def halved_once(table: float, reading: float) -> float:
    """Halved once, however long ago it was."""
    return table + (reading - table) / 2
