"""The order of work of a batch, joined with the day's plan: only what this drink has, with its amounts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from .. import boiling, carbonation, dilution, filtering, gels, making, milk, schedule, steps
from ..facts import Fact
from ..filtering import Forecast
from ..kinds import VOLUME
from ..liquid import Liquid
from ..schedule import STAGES, Plan, Stage
from ..steps import Outcome, Step
from .made import Batch, Row
from .shopping import fruit
from .storage import BATCH, DAY, GLASS, is_citrus, spoils

# Juice that two hands squeeze and strain in an hour. Common practice, no published source. [mL]
_SQUEEZED = 3000.0
# What a stage is called, how long it takes [min] (None: by the filter's forecast) and how long its result keeps [h].
_OF_STEPS = {
    steps.AddWater: ("water", 5.0, 24.0),
    boiling.Boil: ("boil", 30.0, 24.0),
    milk.MilkWash: ("milk", STAGES["milk"].minutes, STAGES["milk"].keeps),
    filtering.Filter: ("filter", None, STAGES["filter"].keeps),
    carbonation.Chill: ("chill", STAGES["chill"].minutes, STAGES["chill"].keeps),
    carbonation.Carbonate: ("carbonate", STAGES["gas"].minutes, STAGES["gas"].keeps),
    dilution.Freeze: ("freeze", 720.0, 24.0),  # overnight; common practice, no published source
    gels.Set: ("set", STAGES["set"].minutes, STAGES["set"].keeps),
}
_CHILLED = 240.0  # a bottle in a fridge; common practice, no published source [min]
_KEEPS_COLD, _KEEPS = 24.0, 168.0  # with juice in it, and without. Common practice, no published source. [h]
_COVER = Fact("cover and keep cold")


def work(
    batch: Batch,
    serve_at: datetime | str,
    *,
    forecast: Forecast | None = None,
    wait: Mapping[str, float] | None = None,
    now: datetime | None = None,
) -> Plan:
    """What is done when, back from the hour it is served.

    Parameters
    ----------
    batch : Batch
    serve_at : datetime or str
        "2026-07-03 19:00" or "2026-07-03 7 pm".
    forecast, wait, now
        As for `schedule.plan`.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        As for `schedule.plan`.

    Examples
    --------
    >>> from drinklab.batch import scale
    >>> from drinklab.recipe import Recipe
    >>> sour = Recipe.parse("60 mL gin\\n25 mL lemon juice\\n20 mL sugar syrup", technique="shaken", name="Sour")
    >>> day = work(scale(sour, serves=12), "2026-07-03 7 pm", now=datetime(2026, 7, 3, 9))
    >>> [f"{row.start:%H:%M} {row.stage.key}" for row in day.rows]
    ['18:20 mix', '18:35 juice', '18:55 add']
    """
    papers = sum(s.papers for s in batch.setting.steps if isinstance(s, filtering.Filter)) or 1
    through = next(
        (float(liquid.volume()) if not liquid.shape else float(liquid[0].volume())
         for step, liquid, _ in batch.trial.worked if isinstance(step, filtering.Filter)), None,
    )  # fmt: skip
    more: dict[str, Any] = {} if through is None else {"volume": through, "filters": papers}
    return schedule.plan(
        serve_at, stages(batch), forecast=forecast, wait=wait, now=now, drink=f"{batch.name}, {_serves(batch)}", **more
    )


def _serves(batch: Batch) -> str:
    return f"{batch.serves} {making.piece(batch.trial)}{'s' * (batch.serves > 1)}"


def stages(batch: Batch) -> list[Stage]:
    """All that this batch needs done, in its order.

    >>> from drinklab.batch import scale
    >>> from drinklab.demo import settings
    >>> from drinklab.pantry import load
    >>> [stage.key for stage in stages(scale(settings(load())["Long Platform"], serves=60))]
    ['mix', 'chill', 'carbonate']
    """
    whole = bool(batch.setting.steps)
    mixed = batch.at(BATCH)
    found = [_juice(batch, mixed)] if any(map(_squeezed(batch), mixed)) else []
    cold = any(spoils(batch.shelf[row.key]) for row in mixed)
    if mixed:
        keeps = _KEEPS_COLD if cold else _KEEPS
        note = _COVER if cold else Fact("close and write the day")
        found.append(Stage("mix", Fact("batch: mix", drink=batch.name, parts=_listed(mixed)), 15.0, keeps, note))
    for step, liquid, outcome in batch.trial.worked:
        if not isinstance(step, carbonation.Pour):
            found.append(_stage(batch, step, liquid, outcome))
    found = _told_apart(found)
    gassed, hot = batch.setting.step(carbonation.Carbonate), batch.drink.recipe.serve == "hot"
    if not whole and batch.trial.melt == 0 and not hot and mixed:
        found.append(Stage("chill", Fact("batch: chill"), _CHILLED, _KEEPS_COLD if cold else _KEEPS, ""))
    if batch.stand and not gassed:
        do = Fact("batch: fill", vessel=batch.stand.name)
        if batch.fillings > 1:
            do = Fact("batch: fill several", fillings=batch.fillings, vessel=batch.stand.name)
        found.append(Stage("fill", do, 10.0, _KEEPS_COLD if cold else _KEEPS, ""))
    later = batch.at(DAY)
    if later:
        found.append(_juice(batch, later))
        found.append(Stage("add", Fact("batch: stir in", parts=_listed(later)), 5.0, 12.0, Fact("cover on ice")))
    for other in batch.beside:
        found[0:0] = [_beside(other)]
    return found


def _squeezed(batch: Batch) -> Callable[[Row], bool]:
    return lambda row: is_citrus(batch.shelf[row.key])


def _juice(batch: Batch, all_of: tuple[Row, ...]) -> Stage:
    rows = [row for row in all_of if is_citrus(batch.shelf[row.key])]
    told = tuple(_so_much(row.ml, row.grams, row.name.split(",")[0]) for row in rows)
    counted = tuple(found.said() for row in rows if (found := fruit(batch.shelf[row.key], row.ml or 0.0)))
    do = Fact("batch: juice", drink=batch.name, juices=told)
    do = Fact("batch: juice of fruit", drink=batch.name, juices=told, fruit=counted) if counted else do
    ml = sum(row.ml or 0.0 for row in rows)
    minutes = max(20.0, 5 * math.ceil(ml / _SQUEEZED * 12))
    return Stage("juice", do, minutes, 24.0, _COVER)


def _stage(batch: Batch, step: Step, liquid: Liquid, outcome: Outcome) -> Stage:
    """A later step as a stage of the day."""
    do = Fact("all of these", parts=steps.orders(step, liquid, outcome))
    dairy = STAGES["milk"].note if batch.setting.step(milk.MilkWash) else ""
    if isinstance(step, steps.Rest):
        return Stage("rest", do, 60 * step.hours, 12.0, dairy)
    gas = Fact("batch: pressure") if isinstance(step, carbonation.Carbonate) else ""
    key, minutes, keeps = _OF_STEPS.get(type(step), (step.name, 30.0, 24.0))
    return Stage(
        key, do, minutes, keeps, Fact("all of these", parts=tuple(filter(None, (dairy, gas)))) if dairy or gas else ""
    )


def _told_apart(found: list[Stage]) -> list[Stage]:
    """A second step of a kind has a key of its own."""
    seen: dict[str, int] = {}
    out = []
    for stage in found:
        seen[stage.key] = seen.get(stage.key, 0) + 1
        out.append(stage if seen[stage.key] == 1 else replace(stage, key=f"{stage.key} {seen[stage.key]}"))
    return out


def _beside(other: Batch) -> Stage:
    """What goes with each glass, made apart: one stage of the day, with all that it needs."""
    made = stages(other)
    minutes, do = sum(stage.minutes or 0.0 for stage in made), tuple(stage.do for stage in made)
    return Stage(f"beside: {other.name}", Fact("batch: beside", name=other.name, parts=do), minutes, 48.0, _COVER)


def _listed(rows: Iterable[Row]) -> tuple[Fact, ...]:
    return tuple(_so_much(None if row.dry else row.ml, row.grams, row.name) for row in rows)


def _so_much(ml: float | None, grams: float, name: str) -> Fact:
    """An amount of something, weighed where that is how it is measured."""
    if ml is None:
        return Fact("weight of", grams=making.weight(grams), bottle=name)
    return Fact("so much of", amount=VOLUME(ml), bottle=name)


def each_glass(batch: Batch) -> Fact | None:
    """What is done for each glass; None where the batch is poured as it is.

    >>> from drinklab.batch import scale
    >>> from drinklab.recipe import Recipe
    >>> sour = Recipe.parse("60 mL gin\\n20 mL sugar syrup\\n20 mL egg white\\n25 mL lemon juice", technique="shaken")
    >>> print(each_glass(scale(sour, serves=12)))
    For each glass: 105 mL of the batch and 20 mL of egg white, raw; shaken with ice.
    """
    glasses = batch.of_all
    late = batch.at(GLASS)
    iced = batch.trial.melt > 0 and not batch.setting.steps
    if not late and not iced:
        return None
    whole = batch.ready / glasses
    parts = [_so_much(whole, 0.0, "the batch")] * bool(whole)
    parts += [
        _so_much(None if row.dry or row.ml is None else row.ml / glasses, row.grams / glasses, row.name) for row in late
    ]
    how = batch.drink.recipe.technique
    ways = {"shaken": "shaken with ice", "stirred": "stirred on ice", "built": "built over ice"}
    if not iced:
        return Fact("batch: each glass", parts=tuple(parts))
    return Fact("batch: each glass, iced", parts=tuple(parts), how=ways.get(how, f"{how} with ice"))
