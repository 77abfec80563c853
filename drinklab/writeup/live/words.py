"""Sentences of the part that a reader can try: what hangs on the reader's settings is left open for the script.

An open place is `{"put": name}`; all else of a sentence is text. Sentences that hang on the chosen units alone come
once for each choice.
"""

from __future__ import annotations

import re
from typing import Any

from ... import texts, trial
from ...carbonation import Chill
from ...display import Display
from ...facts import Fact
from ...kinds import TEMPERATURE
from ...steps import Caution

# Around the name of an open place while a sentence is made; `texts` lets neither through in what a person wrote.
_OPEN, _SHUT = "\x02", "\x03"
CHOICES = [(volume, temperature) for volume in ("mL", "oz") for temperature in ("°C", "°F")]


class _Places(dict[str, str]):
    """Open places by their name, made as they are asked for."""

    def __missing__(self, name: str) -> str:
        return f"{_OPEN}{name}{_SHUT}"


def _split(sentence: str) -> list[str | dict[str, str]]:
    """A sentence in turn as text and open places.

    >>> _split("by \\x02share\\x03 %")
    ['by ', {'put': 'share'}, ' %']
    """
    parts = re.split(f"{_OPEN}(.*?){_SHUT}", sentence)
    return [{"put": part} if i % 2 else part for i, part in enumerate(parts) if part]


def sentences(now: trial.Trial, found: dict[str, Any]) -> dict[str, Any]:
    """Each sentence by its code, and `about`: those that stand whatever the reader sets, for each choice of units."""
    put = _Places()
    country, size = found["alcohol"]["country"], found["alcohol"]["size"]
    held = {"alcohol": put["alcohol"], "drinks": put["drinks"], "country": country, "size": size}
    strong = {"alcohol": put["alcohol"], "abv": put["abv"]}
    whole = found["until"]["served"]
    span = {"what": put["what"], "low": put["low"], "high": put["high"]}
    made = {
        "melt rule": Fact("melt follows the rule", share=put["share"], volume=put["volume"]),
        "melt hand": Fact("melt set by hand", share=put["share"], volume=put["volume"]),
        "alcohol": Fact("a serve holds", **held) if whole else Fact("a serve holds at most", **held),
        "strong": Fact("strong in the glass", **strong) if whole else Fact("strong before later steps", **strong),
        "batch": Fact("all of a batch", volume=put["volume"]),
        "overproof": Caution("overproof"),
        "nothing": Fact("nothing is poured"),
        "number": Fact("no number", **span),
        "bottle": Fact("no room in the bottle", name=put["name"]),
        "sugar": Fact("does not dissolve"),
        "melt": Fact("beyond the melt rule", most=found["melt"]["rule"].get("most", 0)),
        "fill": Fact("does not fill", volume=put["volume"]),
        "near": Fact("nearest are", names=put["names"]),
        "chart": Fact("chart in words", count=str(len(found["classics"]["names"])), sugar=put["sugar"],
                      abv=put["abv"], acid=put["acid"], names=put["names"]),
        "kept": Fact("kept in this browser"),
        "not kept": Fact("not kept"),
        "damaged": Fact("kept was damaged"),
        "no pm": Fact("written without ±"),
        "both": Fact("within both"),
        "together": Fact("within the two together"),
        "apart": Fact("further apart"),
        "theirs": Fact("within the ± as written"),
        "beyond": Fact("beyond the ± as written"),
        "several": Fact("several measured", figure=put["figure"], count=put["count"], difference=put["difference"]),
        "measure": Fact("measure needs", **span),
        "full": Fact("table is full", most=float(found["own"]["most"])),
    }  # fmt: skip
    about = [_reach(now, found), *_unsaid(now, found), Fact("figures at 20")]
    about += now.uncounted
    if found["alcohol"]["beside"]:
        about.append(Fact("with what goes beside"))
    return {code: _split(Display().say(fact)) for code, fact in made.items()} | {
        "about": {f"{volume} {warmth}": [Display(volume, warmth).say(fact) for fact in about]
                  for volume, warmth in CHOICES},
        "labels": _labels(now, whole, found["until"]["stage"]),
    }  # fmt: skip


def _labels(now: trial.Trial, whole: bool, stage: str) -> dict[str, Any]:
    """What controls and columns are called."""
    of = Fact("figures of a serve") if whole else Fact("figures of it all", stage=stage)
    return {
        "serves": "Serves", "top": "after the ice", "strength": "Strength of", "melt": "Melt water",
        "rule": "as it was for the drink as written" if now.ice is not None else "the usual", "none": "no acid",
        "few": "hardly any acid", "out": "Take out", "stage": Display().say(of),
    }  # fmt: skip


def _reach(now: trial.Trial, found: dict[str, Any]) -> Fact:
    """Up to where the script answers."""
    if found["until"]["served"]:
        return Fact("answers to the end")
    later = tuple(texts.line(step.name) for step in now.setting.steps[len(found["steps"]) :])
    return Fact("answers up to a step", stage=found["until"]["stage"], later=later)


def _unsaid(now: trial.Trial, found: dict[str, Any]) -> list[Fact]:
    """What the package looks at and the script does not."""
    said = [Fact("melt held by its ice")] if now.ice is not None else []
    for step in now.setting.steps[: len(found["steps"])]:
        if isinstance(step, Chill):
            said.append(Fact("what stays unsaid of a chill", temperature=TEMPERATURE(step.temperature)))
    return said
