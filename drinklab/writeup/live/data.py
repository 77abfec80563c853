"""All that the script of a page needs to follow a drink: bottles and steps, formulas, classics, units, sentences."""

from __future__ import annotations

import functools
import hashlib
import json
from typing import Any

import numpy as np

from ... import classics as _classics
from ... import dilution, facts, filtering, pantry, plain_data, service, strength, texts, trial
from ...carbonation import Chill
from ...declared import OVERPROOF
from ...display import Display
from ...ingredient import FILL
from ...kinds import ABV, FINER_BELOW, MASS, VOLUME, Kind
from ...learned import melting
from ...liquid import ACIDS, COMPONENTS, SUGARS
from ...physics import density as _density
from ...profile import AXES, KINDS, LEAST_ACID, TITLES, Profile, reference, scales
from ...recipe import Pour
from ...setting import Setting
from ...stage import Stage
from ...steps import AddWater, Rest, Step
from ...units import FLUID_OUNCE
from . import words

_OTHERS = [name for name in COMPONENTS if name not in ("water", "ethanol")]
# Of the table that a reader saves; amounts in the unit of their row.
_COLUMNS = (
    "drink", "measured at", "figure", "unit", "yours", "yours ±", "as written", "as written ±", "difference", "agrees",
    "at the page's setting", "note",
)  # fmt: skip
_SHOWN = ("volume", "abv", "sugar", "acid", "sugar_to_acid", "alcohol", "mass")
_WIDEST = 2.0  # a slider reaches so many times what the drink as written has
_LEAST_REACH = 30.0  # and at least so far [mL]
_MOST_TYPED = 1e6  # of a pour; more is a slip of the hand [mL]
_FINE = 10.0  # up to so many of its measures a slider goes by tenths


def data(drink: trial.Trial | Setting, *, display: Display | None = None) -> dict[str, Any]:
    """What the script is told, as plain data for JSON.

    Parameters
    ----------
    drink : Trial or Setting
        A setting is run first.
    display : Display, optional
        What the page shows at first, if not as in the setting.

    Returns
    -------
    dict
        Amounts in mL, shares in mL/mL, strengths in % vol, compositions in g/mL: see each part.
    """
    now = drink if isinstance(drink, trial.Trial) else trial.run(drink)
    show = display or now.setting.display
    steps, until = _followed(now)
    served = until == len(now.setting.steps)
    # The stages are mixed, perhaps iced and topped, then one a step, then served.
    stage = now.stages[-1] if served else now.stages[len(now.stages) - 2 - (len(now.setting.steps) - until)]
    found = {
        "drink": _drink(now),
        # Of what is not in the drink the page says no allergen, so a reader pours none.
        "pours": [_pour(now, pour) for pour in now.recipe.pours if pour.amount > 0],
        "melt": _melt(now),
        "steps": steps,
        "until": {"stage": texts.line(stage.name), "served": served},
        "written": _written(stage),
        "liquid": _liquid(),
        "density": _formulas(),
        "fill": FILL,
        "limits": _limits(),
        "figures": [_figure(name) for name in _SHOWN],
        "roundings": _roundings(),
        "units": _units(show),
        "classics": _classics_rows(now),
        "chart": _chart(),
        "alcohol": _alcohol(now),
        "own": _own(now),
        "told": ("volume", "abv", "sugar", "acid"),
        "wait": 900,  # until a change is told aloud [ms]
    }
    found["words"] = words.sentences(now, found)
    return found | {"mark": mark(found)}


def mark(found: dict[str, Any]) -> str:
    """Tells one drink's page from another's, where a browser keeps what its reader measured."""
    told = json.dumps([found["drink"], found["pours"], found["steps"]], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:16]


# --- the drink ------------------------------------------------------------------------------------------------


def _drink(now: trial.Trial) -> dict[str, Any]:
    return {
        "name": texts.line(now.recipe.name),
        "serves": now.setting.serves,
        "serve_volume": now.setting.serve_volume,
        "most_serves": 1000,
    }


def _pour(now: trial.Trial, pour: Pour) -> dict[str, Any]:
    """A pour, and what a millilitre of it holds beside the alcohol and the water that fills it up."""
    bottle = pour.bottle(now.pantry)
    composition = dict(zip(COMPONENTS, bottle.composition.tolist(), strict=True))
    units = {}
    for volume in ("mL", "oz"):
        sign, ml = pour.measure(now.pantry, Display(volume))
        step = 0.125 if sign == "oz" else 1.0 if pour.amount / ml > _FINE else 0.1
        units[volume] = {"sign": sign or "pieces", "ml": ml, "digits": 2 if sign == "oz" else 1, "step": step}
    return {
        "name": texts.line(bottle.name.rpartition(", ")[0] if pour.abv is not None else bottle.name) or "pour",
        "amount": pour.amount,
        "after": pour.after,
        "abv": bottle.abv,
        "fixed": bottle.abv == 0,
        "liquid": bottle.state == "liquid",
        "held": {name: composition[name] for name in _OTHERS if composition[name]},
        "units": units,
        "reach": max(_WIDEST * pour.amount, min(_LEAST_REACH, _LEAST_REACH / 10 + 3 * pour.amount)),
    }


def _melt(now: trial.Trial) -> dict[str, Any]:
    """How melt water goes by the drink, and what it is for the drink as written, as a share of the volume before."""
    recipe = now.recipe
    # What the energy balance found for the drink as written stays: the balance itself is not worked out again.
    held = {"fixed": now.melt, "with_top": False} if now.ice is not None else None
    return {
        "rule": held
        or dilution.rule_data(recipe.technique, recipe.serve, melting(recipe.technique, now.pantry.learned).share),
        "set": now.setting.melt,
        "written": now.melt,
        "most": 3.0,
        "reach": max(1.0, _WIDEST * now.melt),
    }


def _followed(now: trial.Trial) -> tuple[list[dict[str, Any]], int]:
    """The steps that are followed exactly, up to the first that is not; and how many those are."""
    followed = []
    for step in now.setting.steps:
        told = _step(step)
        if told is None:
            break
        followed.append(told | {"name": texts.line(step.name)})
    return followed, len(followed)


def _step(step: Step) -> dict[str, Any] | None:
    """A step as the script takes a drink through it; None where the package alone can. Exactly these kinds count."""
    if type(step) in (Rest, Chill):
        return {"do": "keep"}
    if type(step) is AddWater:
        return {"do": "water", "share": step.share, "amount": step.amount}
    if type(step) is filtering.Filter:
        return {"do": "filter", "keeps": step.papers * step.holds, "most": filtering.MOST_KEPT}
    return None


def _written(stage: Stage) -> dict[str, Any]:
    """The drink as written at the stage that is followed: figures, and the ± that holds 19 results in 20."""
    return {name: {"value": _plain(getattr(stage.profile, name)), "pm": _plain(stage.spread(name))} for name in _SHOWN}


def _plain(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _alcohol(now: trial.Trial) -> dict[str, Any]:
    """What is said of the alcohol of a serve: what goes beside it, a country's standard drink, from when to warn."""
    country = now.setting.country
    grams, abv = trial.STRONG_SERVE
    return {
        "beside": sum(other.served.profile.alcohol for other in now.beside),
        "country": country,
        "size": strength.countries()[country],
        "least": service.LEAST,
        "strong": {"grams": grams, "abv": abv, "overproof": OVERPROOF},
        "glass": trial.MOST_GLASS,
        "litre": 1000.0,
    }


# --- formulas and limits ------------------------------------------------------------------------------------------


@functools.cache
def _liquid() -> dict[str, Any]:
    return {
        "sugars": SUGARS, "acids": ACIDS, "others": _OTHERS, "offsets": _density.SUGAR_OFFSET,
        "volumes": _density.SOLUTE_VOLUME,
    }  # fmt: skip


@functools.cache
def _formulas() -> dict[str, Any]:
    """Density of ethanol and water at 20 °C (OIML R 22) in powers of the mass fraction, sucrose (SPS-4) likewise."""
    return {
        "ethanol_water": _density.ETHANOL_WATER_20.tolist(),
        "sucrose": _density.SUCROSE[0].tolist(),
        "water": _density.WATER_20,
        "added": _density.ethanol_water(0.0) / 1000,
        "ethanol": pantry.ETHANOL,
        "thousand": 1000.0,
        "hundred": 100.0,
    }


def _limits() -> dict[str, Any]:
    return {"sugar": pantry.MOST_SUCROSE, "pour": _MOST_TYPED, "abv": ABV.high, "full": 1e-9, "acid": LEAST_ACID}


# --- how figures are shown ----------------------------------------------------------------------------------------


def _figure(name: str) -> dict[str, Any]:
    kind = KINDS[name]
    return {"name": name, "word": TITLES.get(name, "Weight"), "unit": kind.label, "rounding": _rounding(kind)}


def _rounding(kind: Kind) -> str:
    return kind.label if kind.label in FINER_BELOW else "other"


def _roundings() -> dict[str, Any]:
    """By a unit: decimals of a figure, and those of one that is nearer to nothing than `below`."""
    few = {label: {"below": below, "finer": 1, "digits": 0} for label, below in FINER_BELOW.items()}
    return few | {"other": {"below": 0, "finer": 1, "digits": 1}, "oz": {"below": 0, "finer": 2, "digits": 2}}


def _units(show: Display) -> dict[str, Any]:
    warm = Display(temperature="°F")
    return {
        "volume": {"mL": 1.0, "oz": FLUID_OUNCE},
        "temperature": {
            "°C": {"times": 1.0, "plus": 0.0},
            "°F": {"times": round(warm.degrees(1.0) - warm.degrees(0.0), 6), "plus": warm.degrees(0.0)},
        },
        "chosen": {"volume": show.volume, "temperature": show.temperature},
        "minus": "−",
        "strength": {"finest": facts.FINEST, "under": facts.UNDER},
        "least": [1.0, 0.1, 0.01],  # of so many decimals
    }


# --- among the classics -------------------------------------------------------------------------------------------


def _classics_rows(now: trial.Trial) -> dict[str, Any]:
    known = _classics.load()
    figures: Profile = reference(known)
    family = now.recipe.family if now.recipe.family in known.families else None
    return {
        "names": known.names,
        "families": known.families,
        "family": family,
        "axes": AXES,
        "scales": scales(known),
        "named": 3,
    } | {axis: [round(float(value), 4) for value in getattr(figures, axis)] for axis in AXES}


def _chart() -> dict[str, Any]:
    """Two panels, in pixels: sugar across, strength and acid up, and the steps of their axes."""
    figures = reference(_classics.load())
    steps = {"sugar": 50.0, "abv": 10.0, "acid": 5.0}
    tops = {axis: float(getattr(figures, axis).max()) for axis in AXES}
    return {
        "width": 360, "height": 250, "left": 40, "right": 14, "top": 26, "bottom": 40, "gap": 4,
        "dot": 2.5, "near": 4, "me": 7, "written": 6, "text": 12, "labels": 6, "half": 0.5,
        "across": "sugar", "up": ["abv", "acid"],
        "steps": steps, "tops": tops,
    }  # fmt: skip


# --- what a reader measured ---------------------------------------------------------------------------------------


def _own(now: trial.Trial) -> dict[str, Any]:
    """What a reader may measure: the figure of the drink as written, its ±, and what is believed of a measurement."""
    stage = now.served
    warm, ph = stage.temperature, stage.ph
    rows = [
        {
            "name": name, "word": TITLES.get(name, "Weight"), "unit": KINDS[name].label,
            "rounding": _rounding(KINDS[name]), "low": 0.0, "high": high,
            "value": _plain(getattr(stage.profile, name)), "pm": _plain(stage.spread(name)),
        }
        for name, high in (("volume", VOLUME.high), ("mass", MASS.high), ("abv", ABV.high), ("sugar", 1500.0),
                           ("acid", 1500.0))
    ]  # fmt: skip
    rows.append({"name": "ph", "word": "pH", "unit": "", "rounding": "other", "low": 0.0, "high": 14.0,
                 "value": ph and ph[0], "pm": ph and ph[1]})  # fmt: skip
    rows.append({"name": "temperature", "word": "Temperature", "unit": "°C", "rounding": "other", "low": -30.0,
                 "high": 100.0, "value": warm, "pm": None})  # fmt: skip
    return {"rows": rows, "most": 200, "letters": texts.NAME, "file": _file(now), "columns": _COLUMNS}


def _file(now: trial.Trial) -> str:
    return f"{plain_data.slug(now.recipe.name)}_measured.csv"
