"""Versions of a drink: what one changed in another, and which came from which."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..recipe import SERVED_WITH, Recipe
from ..setting import Setting
from ..steps import Step
from .listing import Entry


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that differs between two versions.

    Attributes
    ----------
    code : str
        Of pours "poured" (an amount changed), "added", "left out", "strength"; of steps "step added", "step left out",
        "step changed"; of what goes with it the same with "beside"; or a field's name, such as "technique".
    what : str
        The ingredient's id, a step's name, or the name of what goes with the drink; "" elsewhere.
    was, now : object
        Amounts of pours in mL, strengths in % vol (None for the pantry's own); None where there is none.
    """

    code: str
    what: str = ""
    was: object = None
    now: object = None


def changes(now: Setting, was: Setting) -> tuple[Change, ...]:
    """What is different in a version, pours first.

    Parameters
    ----------
    now, was : Setting

    Returns
    -------
    tuple of Change
        Empty where only other words, units, draws or the country differ.

    Examples
    --------
    >>> was = Setting(Recipe.parse("45 mL pisco, 43 %\\n25 mL verjus", technique="shaken"))
    >>> now = Setting(Recipe.parse("45 mL pisco, 43 %\\n20 mL verjus\\n5 mL lemon juice", technique="stirred"))
    >>> for change in changes(now, was):
    ...     print(change.code, change.what, change.was, change.now)
    poured verjus 25.0 20.0
    added lemon_juice None 5.0
    technique  shaken stirred
    """
    found: list[Change | None] = [*_pours(now.recipe, was.recipe)]
    found += [_field(now.recipe, was.recipe, name) for name in ("technique", "serve", *SERVED_WITH)]
    found += [_field(now, was, name) for name in ("melt", "ice")]
    found += _named("step", _steps(now.steps), _steps(was.steps))
    found += _named("beside", {s.recipe.name: _poured(s) for s in now.beside},
                    {s.recipe.name: _poured(s) for s in was.beside})  # fmt: skip
    found += [_field(now, was, name) for name in ("serves", "serve_volume", "tool")]
    return tuple(filter(None, found))


def _pours(now: Recipe, was: Recipe) -> Iterator[Change]:
    here, there = _by_bottle(now), _by_bottle(was)
    for key in dict.fromkeys((*there, *here)):
        (before, strength_before), (after, strength_after) = there.get(key, (None, None)), here.get(key, (None, None))
        if before != after:
            yield Change(
                "added" if before is None else "left out" if after is None else "poured", key[0], before, after
            )
        if None not in (before, after) and strength_before != strength_after:
            yield Change("strength", key[0], strength_before, strength_after)


def _by_bottle(recipe: Recipe) -> dict[tuple[str, bool], tuple[float, float | None]]:
    """Amount and strength of each bottle; what goes in after the ice is apart."""
    found: dict[tuple[str, bool], tuple[float, float | None]] = {}
    for pour in recipe.pours:
        key = pour.ingredient, pour.after
        before, strength = found.get(key, (0.0, pour.abv))
        found[key] = before + pour.amount, strength
    return found


def _field(now: object, was: object, name: str) -> Change | None:
    before, after = getattr(was, name), getattr(now, name)
    return Change(name, "", before, after) if before != after else None


def _steps(steps: Sequence[Step]) -> dict[str, Step]:
    named: dict[str, Step] = {}
    for step in steps:
        number = 1 + sum(name.split(" (")[0] == step.name for name in named)
        named[step.name if number == 1 else f"{step.name} ({number})"] = step
    return named


def _poured(setting: Setting) -> tuple[object, ...]:
    """What goes with a drink, without its words."""
    recipe = setting.recipe
    return _by_bottle(recipe), recipe.technique, recipe.serve, setting.melt, setting.ice, setting.steps, setting.serves


def _named(kind: str, here: Mapping[str, object], there: Mapping[str, object]) -> list[Change]:
    found = []
    for name in dict.fromkeys((*there, *here)):
        if here.get(name) != there.get(name):
            how = "added" if name not in there else "left out" if name not in here else "changed"
            found.append(Change(f"{kind} {how}", name, there.get(name), here.get(name)))
    return found


def line_of(among: Sequence[Entry], path: str | Path) -> tuple[tuple[int, Entry], ...]:
    """All versions that belong with a saved trial, each with how many steps it is from the first.

    The first, then what came from it, the oldest first and its own versions right behind it. Where the trial that one
    came from is gone, the line begins with that one.

    Parameters
    ----------
    among : sequence of Entry
    path : path
        Of one of them.
    """
    by_name = {one.path.name: one for one in among}
    here = by_name.get(Path(path).name)
    if here is None:
        return ()
    seen = {here.path.name}
    while (before := by_name.get(here.came_from)) is not None and before.path.name not in seen:
        here = before
        seen.add(here.path.name)
    of = defaultdict(list)
    for one in among:
        of[one.came_from].append(one)
    out, met, waiting = [], set(), [(0, here)]
    while waiting:
        depth, one = waiting.pop()
        if one.path.name in met:
            continue
        met.add(one.path.name)
        out.append((depth, one))
        waiting += [(depth + 1, o) for o in sorted(of[one.path.name], key=lambda o: o.time, reverse=True)]
    return tuple(out)
