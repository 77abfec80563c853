"""Labels for bottles and kegs, on sheets of a standard size."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date as _date
from datetime import timedelta

import numpy as np

from .. import batch, carbonation, service, spirited, texts
from ..declared import OVERPROOF, Declared, declared, in_bottle
from ..display import Display
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import ABV, TEMPERATURE, VOLUME, Given
from ..liquid import Liquid
from ..profile import profile
from ..trial import Trial, run
from ..units import to_ml, whole_number
from .code import Code, code
from .lengths import Block, Cell, fitted

_MOST_LABELS, _MOST_ML = 2000, 100_000.0
# x of 0.9 mm and more on a pack of under 80 cm²: Regulation (EU) No 1169/2011, article 13.
_SIZES = (10.0, 9.0, 8.0, 7.0, 6.5, 6.0)
_SAME = 0.3  # what a label of spirits may be off (Regulation (EU) No 1169/2011, annex XII; from memory) [% vol]
_PAD = 2.5  # kept free inside a label [mm]
_BESIDE_CODE = 1.0  # between the text and a code, whose own margin is free too [mm]


@dataclass(frozen=True, slots=True)
class Stock:
    """A sheet of labels: its paper, how many across and down, their size, the gaps between them; centred. [mm]

    >>> STOCKS["63.5 × 38.1 mm, 21 on A4"].top
    15.15
    """

    paper: str
    across: int
    down: int
    wide: float
    high: float
    gap: float  # between columns; rows touch

    @property
    def sheet(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return PAPERS[self.paper]

    @property
    def count(self) -> int:
        """Labels on a sheet."""
        return self.across * self.down

    @property
    def left(self) -> float:
        """From the paper's edge to the first label."""
        return round((self.sheet[0] - self.across * self.wide - (self.across - 1) * self.gap) / 2, 3)

    @property
    def top(self) -> float:
        """From the paper's edge to the first label."""
        return round((self.sheet[1] - self.down * self.high) / 2, 3)

    def places(self) -> tuple[tuple[float, float], ...]:
        """Left and top of each label, row by row."""
        return tuple(
            (round(self.left + i * (self.wide + self.gap), 3), round(self.top + j * self.high, 3))
            for j in range(self.down) for i in range(self.across)
        )  # fmt: skip


# ISO 216, and ANSI/ASME Y14.1 size A: 8½ by 11 inches. [mm]
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
# Common sizes of the stationery trade; those of Letter are 4 by 1⅓ and 4 by 2 inches, 3/16 of an inch apart.
STOCKS = {
    "63.5 × 38.1 mm, 21 on A4": Stock("A4", 3, 7, 63.5, 38.1, 2.5),
    "99.1 × 38.1 mm, 14 on A4": Stock("A4", 2, 7, 99.1, 38.1, 2.5),
    "4 × 1⅓ in, 14 on Letter": Stock("Letter", 2, 7, 101.6, 25.4 * 4 / 3, 4.7625),
    "4 × 2 in, 10 on Letter": Stock("Letter", 2, 5, 101.6, 50.8, 4.7625),
}
YOUR_CODE = "your code decides"
# FDA Food Code 2022, 3-501.17: food that needs time and temperature control, prepared and held cold at 5 °C (41 °F) or
# below, is used within 7 days, the day of preparation counted as the first (as Minnesota Rules 4626.0400 repeat it).
FOOD_CODE, _DAYS, _COLD = "FDA Food Code 3-501.17", 7, 5.0  # [d], [°C]
TYPED = "a date of my own"
USE_BY = (YOUR_CODE, FOOD_CODE, TYPED)


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says, on which stock, in letters of which size. [pt]"""

    name: str
    dates: tuple[str, ...]
    holds: str
    allergens: tuple[str, ...]
    warning: str
    stock: str
    count: int
    first: int
    code: Code | None = None
    size: float = 0.0

    @property
    def wide(self) -> float:
        """What the text has of the label's width. [mm]"""
        beside = self.code.side + _BESIDE_CODE if self.code else 0.0
        return STOCKS[self.stock].wide - 2 * _PAD - beside

    def blocks(self) -> tuple[Block, ...]:
        """From top to bottom, as card.css lays it out."""
        rest = [*self.dates, self.holds, *self.allergens]
        return (
            Block("name of the drink", (Cell(self.name, bold=True),), em=1.25, leading=1.15, after=0.15),
            *[Block("warning", (Cell(self.warning, bold=True),), leading=1.2, after=0.1)] * bool(self.warning),
            *(Block("text", (Cell(text),), leading=1.2, after=0.1) for text in rest),
        )


def label(
    trial: Trial,
    *,
    stock: str = "63.5 × 38.1 mm, 21 on A4",
    count: int = 1,
    first: int = 1,
    volume: Given | None = None,
    made: _date | None = None,
    use_by: str = YOUR_CODE,
    until: _date | None = None,
    source: str = "",
    coded: bool = False,
    display: Display | None = None,
) -> Label:
    """What stands on the label of a bottle or a keg of all that a trial makes.

    Parameters
    ----------
    trial : Trial
    stock : str
        One of `STOCKS`.
    count, first : int
        Labels to print, and on which place of a sheet that was begun to start.
    volume : amount, optional
        What the bottle holds; a line to fill in by default. [mL]
    made : datetime.date, optional
        Today by default.
    use_by : str
        One of `USE_BY`: left to the local code, by the Food Code's seven days, or a date that is typed.
    until, source : datetime.date, str
        The typed date, and the food code or study that it is by.
    coded : bool
        With a square code of name, day, strength and allergens, in plain text that a phone reads.
    display : Display, optional

    Returns
    -------
    Label

    Raises
    ------
    InputError
        For what does not fit, and for a typed date without a source.

    Examples
    --------
    >>> from drinklab import demo, pantry, trial
    >>> shelf = pantry.load()
    >>> keg = label(trial.run(demo.settings(shelf)["Long Platform"], pantry=shelf, draws=0), made=_date(2027, 1, 30))
    >>> keg.warning, keg.dates
    ('Under pressure: keep cold, open slowly.', ('Made 2027-01-30', 'Use by: your code decides'))
    """
    show = display or trial.setting.display
    where = STOCKS[one_of("label stock", stock, STOCKS)]
    day = _dated("made", _date.today() if made is None else made)
    # What goes beside the drink, or on it, is in no bottle of it.
    bottled = in_bottle(trial.recipe)
    bare = replace(trial.setting, recipe=bottled, beside=(), draws=0)
    held = declared(run(bare, pantry=trial.pantry) if trial.beside or bottled != trial.recipe else trial)
    strength = show.say(_strength(trial))
    said = list(replace(held, cautions=(), unstated=()).said())
    said += [Fact("label: not stated", bottles=tuple(map(texts.line, held.unstated)))] * bool(held.unstated)
    codes = {caution.code for caution in held.cautions}
    asked = tuple(code for code in service.ASKED_FOR if code in codes)
    said += service.hazard_words(codes)
    said += [Fact("with what is asked for", asked=asked)] * bool(asked)
    said += [Fact("menu: strong jelly")] * ("strong jelly" in codes and "choking" not in codes)
    jelly = [Fact("label: gelatin")] * ("gelatin" in codes) + [Fact("label: chew")] * ("choking" in codes)
    said += [Fact("label: jelly", parts=tuple(jelly))] * bool(jelly)
    allergens = tuple(map(show.say, said))
    if use_by == FOOD_CODE and (never := batch.no_seven_days(codes)):
        raise InputError("use by", use_by, f"by another rule: seven days are too long for {' and '.join(never)}")
    one = Label(
        name=texts.line(trial.recipe.name),
        dates=tuple(map(show.say, (Fact("label: made", day=day.isoformat()), _use_by(use_by, day, until, source)))),
        holds=f"{strength} · {_volume(volume, show)}",
        allergens=allergens,
        warning=show.say(_warnings(trial, held)),
        stock=stock,
        count=whole_number(count, "labels", 1, _MOST_LABELS),
        first=whole_number(first, "first place on the sheet", 1, where.count),
    )
    high, called = where.high - 2 * _PAD, f"a label of {stock.partition(',')[0]}"
    if coded:
        square = code(" ".join((f"{one.name}.", f"{one.dates[0]}.", f"{strength}.", *allergens)))
        one = replace(one, code=square)
        if square.side > high:
            allowed = f"at most {high:.0f} mm: leave the code off, or take a larger label"
            raise InputError(f"code on {called}", Told(f"{square.side:.0f} mm high"), allowed)
    return replace(one, size=fitted(one.blocks(), one.wide, high, _SIZES, called))


def _strength(trial: Trial) -> Fact:
    """How strong it is in the bottle; also in the glass, where ice or a pour of the last minute changes that."""
    stage = trial.stages[-2]
    if float(stage.profile.alcohol) <= 0:
        named = spirited.uncounted(in_bottle(trial.recipe), trial.pantry)
        return Fact("label: alcohol not counted", named=named) if named else Fact("label: no alcohol")
    served = ABV(*service.figure_of(stage, "abv"))
    bottled = _bottled(trial)
    if abs(bottled - float(stage.profile.abv)) < _SAME:
        return Fact("label: strength", abv=served)
    return Fact("label: strength in bottle and glass", bottled=ABV(bottled), abv=served)


def _bottled(trial: Trial) -> float:
    """Strength of what waits in the bottle. [% vol]"""
    held = [] if trial.steps else batch.waiting(trial.setting, trial.pantry)
    if not held:
        return float(trial.stages[-2].profile.abv)
    amounts, composed = np.array([ml for _, ml in held]), np.array([item.composition for item, _ in held])
    return float(profile(Liquid.poured(amounts, composed)).abv)


def _warnings(trial: Trial, held: Declared) -> tuple[Fact, ...]:
    """What keeps a bottle from hurting: of gas, of what spoils, of what burns."""
    washed = bool(trial.steps) and "dairy" in {caution.code for caution in held.cautions}
    cold = washed or batch.kept_cold(trial.setting, trial.pantry)
    live = "ferments" in {caution.code for caution in held.cautions}
    said = [Fact("label: under pressure")] if live or _gassed(trial) else [Fact("label: keep cold")] * cold
    return (*said, *[Fact("label: burns")] * (_bottled(trial) > OVERPROOF))


def _volume(volume: Given | None, show: Display) -> str:
    if volume is None:
        return "________ " + show.volume
    ml = to_ml(volume, field="volume of the bottle")
    if not isinstance(ml, float):
        raise InputError("volume of the bottle", Told("several"), "one amount")
    require("volume of the bottle", ml, 1, _MOST_ML, VOLUME)
    return f"{ml / 1000:.3g} L" if ml >= 1000 and show.volume == "mL" else show.volume_text(ml)


def _dated(field: str, day: _date) -> _date:
    if not (isinstance(day, _date) and 2000 <= day.year < 2200):
        raise InputError(field, str(day), "a date of the years 2000 to 2199")
    return day


def _use_by(use_by: str, day: _date, until: _date | None, source: str) -> Fact:
    one_of("use by", use_by, USE_BY)
    if until is not None:
        _dated("use by", until)
    if use_by == YOUR_CODE:
        return Fact("label: use by your code", code=YOUR_CODE)
    if use_by == FOOD_CODE:
        last = (day + timedelta(days=_DAYS - 1)).isoformat()
        return Fact("label: use by, kept cold", day=last, cold=TEMPERATURE(_COLD), code=FOOD_CODE)
    source = texts.line(texts.clean(source, "source of the date", 60))
    if not source:
        raise InputError("source of the date", "", "the food code or the study that it is by")
    if until is None or until < day:
        raise InputError("use by", Told("empty" if until is None else until.isoformat()), "a date from the day made on")
    return Fact("label: use by", day=until.isoformat(), source=source)


def _gassed(trial: Trial) -> bool:
    """Whether what is in the bottle holds gas: carbonated, or mixed with something sparkling."""
    sparkles = any("sparkling" in p.bottle(trial.pantry).cautions for p in trial.recipe.pours if p.amount > 0)
    return sparkles or any(isinstance(step, carbonation.Carbonate) for step in trial.steps)
