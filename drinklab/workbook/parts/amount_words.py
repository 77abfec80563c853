"""An amount as a page writes it: in its own unit, and as a bar measure where one is near."""

from __future__ import annotations

from ...display import Display
from ...pantry import Pantry
from ...recipe import Pour
from ...units import BAR_MEASURES, FLUID_OUNCE


def pour_text(pour: Pour, shelf: Pantry, show: Display) -> str:
    """What is poured, in the measure that it is told in."""
    unit, ml = pour.measure(shelf, show)
    amount = pour.amount / ml
    digits = ".2f" if unit == "oz" else ".2g" if amount < 1 else ".1f"
    return f"{amount:{digits}}".removesuffix(".0") + f" {unit}"


def bar_text(ml: float) -> str:
    """An amount as a bar measure, where one is within 1 % of it; else "".

    >>> bar_text(44.36), bar_text(22.18), bar_text(1.8), bar_text(2.5), bar_text(17)
    ('1½ oz', '¾ oz', '2 dashes', '½ barspoon', '')
    """
    for name, plural, size, parts, most in (
        ("dash", "dashes", BAR_MEASURES["dash"], 1, 3), ("barspoon", "barspoons", BAR_MEASURES["barspoon"], 2, 2),
        ("oz", "oz", FLUID_OUNCE, 4, 64),
    ):  # fmt: skip
        pieces = round(ml / size * parts)
        if 0 < pieces <= most * parts and abs(pieces * size / parts - ml) <= 0.01 * ml:
            whole, rest = divmod(pieces, parts)
            fraction = ("", "¼", "½", "¾")[rest * 4 // parts]
            return f"{whole or ''}{fraction} {name if pieces <= parts else plural}"
    return ""
