"""The spec card: one drink on one A5 page for whoever makes it, and the same for a phone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as _date
from typing import Any, NamedTuple

from .. import __version__, making, service, spirited, texts
from ..display import Display
from ..errors import one_of
from ..facts import Fact, own, say
from ..kinds import ABV, CONCENTRATION, MASS, TEMPERATURE, VOLUME
from ..making import told_serving
from ..profile import AXES, KINDS, WORDS
from ..recipe import Pour
from ..service import Serve, figure_of
from ..trial import MOST_GLASS, Trial, run
from ..units import FLUID_OUNCE, METRIC, US, fraction_text
from .lengths import Block, Cell, fitted

# What a jigger is marked in. [mL]
STEPS = {"5 mL": 5.0, "¼ oz": FLUID_OUNCE / 4, "as designed": None}
# An amount that rounding would change by more than this stays as it is. Common practice, no published source.
MOST_OFF = 0.15
# ISO 216: A5 is 148 x 210 mm. The style sheet keeps 9 mm free on each side; a line is kept in reserve.
A5 = (148.0, 210.0)
_MARGIN, _SPARE = 9.0, 4.0
# Letters of 7 pt and more: their x is at least 1.2 mm high (Regulation (EU) No 1169/2011, article 13).
_SIZES = (10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0)
_BLANK = "____________"  # to be filled in by hand
_CALLED = {"glass": "glass", "glass_ice": "ice", "garnish": "garnish"}
_MOST_WORDS = 80  # letters of the glass, the ice, the garnish


@dataclass(frozen=True, slots=True)
class Row:
    """A line of what goes in: for all that is made, and in one serve of a batch ("" for a single drink)."""

    amount: str
    name: str
    one: str = ""


@dataclass(frozen=True, slots=True)
class Spec:
    """What a spec card says, and the size of letters in which it fits its page. [pt]"""

    name: str
    head: str
    serving: tuple[tuple[str, str], ...]
    columns: tuple[str, str]  # what the amounts are for; the second is "" for a single drink
    rows: tuple[Row, ...]
    method: tuple[str, ...]
    figures: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    rounding: str
    foot: str
    size: float = 0.0

    def blocks(self) -> tuple[Block, ...]:
        """The page from top to bottom, as card.css lays it out."""
        made = [
            Block("name of the drink", (Cell(self.name, bold=True),), em=1.5, leading=1.2),
            Block("first line", (Cell(self.head),)),
        ]
        made += [Block(word.lower(), (Cell(f"{word}: {text}"),)) for word, text in self.serving]
        amount, one = (0.2, 0.17) if self.columns[1] else (0.25, 0.0)
        for row in (Row(self.columns[0], "", self.columns[1]), *self.rows):
            cells = Cell(row.amount, amount, True), Cell(row.one, one or 1.0), Cell(row.name, 0.98 - amount - one)
            made.append(Block("list of pours", cells, after=0.45))
        made.append(Block("list of pours", (Cell(""),), em=0.4))
        made += [Block("method", (Cell(text),), indent=2.0, after=0.2) for text in self.method]
        made.append(Block("method", (Cell(""),), em=0.2))
        made += [Block(word.lower(), (Cell(f"{word}: {text}", bold=True),)) for word, text in self.figures]
        made += [Block("cautions", (Cell(text),), em=0.94, indent=1.2) for text in self.cautions]
        made += [Block("line on rounding", (Cell(self.rounding),), em=0.9)] * bool(self.rounding)
        return (*made, Block("last line", (Cell(self.foot),), em=0.9))


def spec(
    trial: Trial,
    *,
    step: str | None = None,
    glass: str = "",
    ice: str = "",
    garnish: str = "",
    display: Display | None = None,
    date: _date | None = None,
) -> Spec:
    """What goes on a spec card.

    Parameters
    ----------
    trial : Trial
    step : str, optional
        One of `STEPS`; by default that of the chosen volumes. Of a batch nothing is rounded.
    glass, ice, garnish : str
        In the bar's words; by default the recipe's own, or what its method says, else a line to fill in.
    display : Display, optional
    date : datetime.date, optional
        Today by default.

    Returns
    -------
    Spec

    Raises
    ------
    InputError
        Naming what is too long for one page.

    Examples
    --------
    >>> from drinklab import demo, pantry
    >>> shelf = pantry.load()
    >>> card = spec(run(demo.settings(shelf)["Slow Signal"], pantry=shelf))
    >>> [row.amount for row in card.rows], card.serving[0]
    (['45 mL', '25 mL', '5 mL', '2 dashes'], ('Glass', 'chilled stem glass'))
    """
    show = display or trial.setting.display
    step = one_of("rounding", step or ("¼ oz" if show.volume == "oz" else "5 mL"), STEPS)
    trial = _served_with(trial, {"glass": glass, "glass_ice": ice, "garnish": garnish})
    batch = making.is_batch(trial)
    made, kept = (trial, ()) if batch else rounded(trial, STEPS[step])
    one = service.serve(made)
    card = Spec(
        name=texts.line(made.recipe.name),
        head=_head(made, show),
        serving=tuple((word, text or _BLANK) for word, text in told_serving(made.recipe).items()),
        columns=(f"for {making.serves(made)}", "in one") if batch else (say(_one(made)), ""),
        rows=_rows(made, show, STEPS[step], batch),
        method=tuple(texts.line(item.do) for item in making.method(made, show)),
        figures=service.lines(_figures(made, one), show),
        cautions=tuple(map(show.say, (*made.cautions, *spirited.told(one.named, one.abv.value)))),
        rounding=show.say(_rounding_facts(trial, made, step, kept, show)),
        foot=say(Fact("foot of a spec card", day=(date or _date.today()).isoformat(), version=__version__)),
    )
    wide, high = A5[0] - 2 * _MARGIN, A5[1] - 2 * _MARGIN - _SPARE
    return replace(card, size=fitted(card.blocks(), wide, high, _SIZES, "a spec card of one A5 page"))


# --- amounts ----------------------------------------------------------------------------------------------------


class Rounded(NamedTuple):
    """A drink with rounded pours, and the names of those that stay as they are."""

    trial: Trial
    kept: tuple[str, ...]


def rounded(trial: Trial, step: float | None) -> Rounded:
    """The drink with its pours rounded to a step, run again, and the names of those that stay as they are. [mL]

    Dashes, drops, spoons, pieces and dry solids are not rounded, nor what it would change by more than `MOST_OFF`.

    >>> from drinklab.recipe import Recipe
    >>> made, kept = rounded(run(Recipe.parse("43 mL gin\\n17 mL lemon juice\\n7.5 mL sugar syrup"), draws=0), 5.0)
    >>> [p.amount for p in made.recipe.pours], kept
    ([45.0, 15.0, 7.5], ('sugar syrup, 1:1 by mass',))
    """
    if step is None:
        return Rounded(trial, ())
    pours, kept = [], []
    for pour in trial.recipe.pours:
        near = math.floor(pour.amount / step + 0.5) * step
        if not _measured(pour, trial) or abs(near - pour.amount) <= 1e-9:
            pours.append(pour)
        elif abs(near - pour.amount) > MOST_OFF * pour.amount:
            kept.append(pour.bottle(trial.pantry).name)
            pours.append(pour)
        else:
            pours.append(replace(pour, amount=near))
    if tuple(pours) == trial.recipe.pours:
        return Rounded(trial, tuple(kept))
    recipe = replace(trial.recipe, pours=tuple(pours))
    return Rounded(run(replace(trial.setting, recipe=recipe), pantry=trial.pantry), tuple(kept))


def _measured(pour: Pour, trial: Trial) -> bool:
    """Whether a jigger measures it."""
    told = pour.typed is None or pour.typed.unit in (*METRIC, *US, "part")
    return pour.amount > 0 and told and pour.bottle(trial.pantry).state == "liquid"


def _amount(pour: Pour, trial: Trial, show: Display, step: float | None) -> str:
    if step and _measured(pour, trial):
        number = pour.amount / step
        if abs(number - round(number)) < 1e-6:
            return f"{fraction_text(round(number) / 4)} oz" if step != 5.0 else f"{pour.amount:.0f} mL"
        return f"{pour.amount:.3g} mL"
    return pour.amount_text(trial.pantry, show)


def _rows(made: Trial, show: Display, step: float | None, batch: bool) -> tuple[Row, ...]:
    if batch:
        put_out = zip(making.table(made, show), making.ingredients(made), strict=True)
        return tuple(
            Row(row.told or (show.volume_text(row.ml) if row.ml is not None and not row.solid
                             else f"{making.weight(row.grams)} g"), texts.line(row.name), cells["glass"])
            for cells, row in put_out
        )  # fmt: skip
    rows = []
    for pour in made.recipe.pours:
        if pour.amount > 0:
            name = texts.line(pour.bottle(made.pantry).name)
            name = say(Fact("added last", name=name)) if pour.after else name
            rows.append(Row(_amount(pour, made, show, step), name))
    for row in making.ingredients(made):
        if row.step:
            amount = f"{making.weight(row.grams)} g" if row.ml is None else show.volume_text(row.ml)
            rows.append(Row(amount, texts.line(row.name)))
    return tuple(rows)


def _rounding_facts(trial: Trial, made: Trial, step: str, kept: Sequence[str], show: Display) -> tuple[Fact, ...]:
    """What rounding does to the drink."""
    was, now = trial.served.profile, made.served.profile
    moved, beyond = [], []
    for axis in AXES:
        before, after = (KINDS[axis](getattr(p, axis)) for p in (was, now))
        if show.amount(before) != show.amount(after):
            moved.append(Fact("figure becomes", what=WORDS[axis], was=before, now=after))
        if abs(after.value - before.value) > trial.served.spread(axis):
            beyond.append(WORDS[axis])
    said = [Fact("amounts rounded", step=step, moved=tuple(moved) or Fact("no figure moves"))] * (made is not trial)
    said += [Fact("rounded beyond ±", figures=tuple(beyond))] * bool(beyond)
    short = tuple(dict.fromkeys(name.split(",")[0] for name in kept))
    return (*said, *[Fact("not rounded", most=100 * MOST_OFF, names=short)] * bool(kept))


# --- words --------------------------------------------------------------------------------------------------------


def _served_with(trial: Trial, given: dict[str, str]) -> Trial:
    """The trial with a glass, ice and garnish of other words, and what those bring."""
    words: dict[str, Any] = {
        name: texts.line(texts.clean(text, _CALLED[name], _MOST_WORDS)) for name, text in given.items()
    }
    recipe = replace(trial.recipe, **{name: text for name, text in words.items() if text})
    return trial if recipe == trial.recipe else run(replace(trial.setting, recipe=recipe), pantry=trial.pantry)


def _head(made: Trial, show: Display) -> str:
    way = made.recipe.technique if made.recipe.technique != "none" else "mixed without ice"
    of = making.yields(made, show) or f"{say(_one(made)).capitalize()}."
    return say(Fact("head of a spec card", of=of, way=way.capitalize(), serve=made.recipe.serve))


def _one(made: Trial) -> Fact:
    """What the figures are of."""
    if made.served.profile.volume > MOST_GLASS:
        return Fact("all of it, no serves set")
    return Fact("one piece" if making.piece(made) == "piece" else "one serve")


def _figures(made: Trial, one: Serve) -> list[Fact]:
    """Target, what to check, what is declared."""
    served = made.served
    target = Fact(
        "spec: target", abv=ABV(*figure_of(served, "abv")), sugar=CONCENTRATION(*figure_of(served, "sugar")),
        acid=CONCENTRATION(*figure_of(served, "acid")),
    )  # fmt: skip
    said = [Fact("spec: target and drinks", target=target, drinks=service.drinks(one)) if one.alcohol.value else target]
    iced = made.recipe.serve in ("on ice", "long")
    said.append(Fact(
        "spec: check", of=_one(made), weight=own(MASS(*figure_of(served, "mass")), f".{int(served.profile.mass < 20)}"),
        volume=VOLUME(*figure_of(served, "volume")),
        bare=Fact("without glass and ice" if iced else "without the glass"), warmth=_warmth(made),
    ))  # fmt: skip
    said.append(Fact("card: contains", allergens=one.allergens or Fact("none of the fourteen")))
    said += [Fact("card: may contain", allergens=one.may_contain)] * bool(one.may_contain)
    said += [Fact("card: not stated", bottles=tuple(map(texts.line, one.said.unstated)))] * bool(one.said.unstated)
    return said + [Fact("card: also in it", asked=one.asked_for)] * bool(one.asked_for)


def _warmth(made: Trial) -> Fact:
    if made.chill is not None:
        return Fact("as it leaves the ice", at=TEMPERATURE(made.chill.temperature))
    if made.served.temperature is not None:
        return Fact("as it is served", at=TEMPERATURE(made.served.temperature))
    return Fact("temperature not worked out")
