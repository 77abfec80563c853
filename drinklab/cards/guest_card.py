"""The guest card: what a serve holds, on an A6 card that a guest can be handed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date as _date

from .. import __version__, service, texts
from ..display import Display
from ..facts import Fact
from ..trial import Trial
from .lengths import Block, Cell, fitted

# ISO 216: A6 is 105 x 148 mm. The style sheet keeps 8 mm free on each side; a line is kept in reserve.
A6 = (105.0, 148.0)
_MARGIN, _SPARE = 8.0, 3.0
_SIZES = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0)  # as on the spec card


@dataclass(frozen=True, slots=True)
class Guest:
    """What a guest card says, and the size of letters in which it fits. [pt]"""

    name: str
    styles: str
    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    foot: str
    size: float = 0.0

    def blocks(self) -> tuple[Block, ...]:
        """The card from top to bottom, as card.css lays it out."""
        return (
            Block("name of the drink", (Cell(self.name, bold=True),), em=1.5, leading=1.2),
            Block("list of what is in it", (Cell(self.styles),)),
            *(Block(word.lower(), (Cell(f"{word}: {text}", bold=True),)) for word, text in self.facts),
            *(Block("notes", (Cell(text),), em=0.9) for text in self.notes),
            Block("last line", (Cell(self.foot),), em=0.9),
        )


def served_with(trial: Trial) -> tuple[tuple[str, str], ...]:
    """What lies on the drink, as its recipe has it."""
    garnish = texts.line(trial.recipe.garnish)
    return (("Garnish", garnish),) if garnish else ()


def guest(
    trial: Trial, *, country: str | None = None, display: Display | None = None, date: _date | None = None
) -> Guest:
    """What goes on a guest card.

    Parameters
    ----------
    trial : Trial
    country : str, optional
        Whose standard drinks count; by default the setting's.
    display : Display, optional
    date : datetime.date, optional
        Today by default.

    Raises
    ------
    InputError
        For an unknown country, and naming what is too long for one card.

    Examples
    --------
    >>> from drinklab import demo, pantry, trial
    >>> shelf = pantry.load()
    >>> dict(guest(trial.run(demo.settings(shelf)["First Frost"], pantry=shelf)).facts)["Contains"]
    'eggs'
    """
    show = display or trial.setting.display
    one = service.serve(trial, country)
    card = Guest(
        name=one.name,
        styles=texts.line(", ".join(one.styles)),
        facts=(*service.facts(one, show), *served_with(trial)),
        notes=service.notes(one, show),
        foot=Fact("foot of a guest card", day=(date or _date.today()).isoformat(), version=__version__).text,
    )
    wide, high = A6[0] - 2 * _MARGIN, A6[1] - 2 * _MARGIN - _SPARE
    return replace(card, size=fitted(card.blocks(), wide, high, _SIZES, "a guest card of A6"))
