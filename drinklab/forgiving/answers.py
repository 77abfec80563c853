"""From a target to amounts that most pours keep inside it, beside the nearest; and what would raise the share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import dilution, reach, trial
from .. import pantry as _pantry
from ..display import Display
from ..errors import InputError, Told, one_of
from ..facts import Fact
from ..kinds import VOLUME, Given
from ..pantry import Pantry
from ..reach.answers import Answer, answers_of
from ..reach.asked import COST, amounts_of
from ..reach.sums import Bands, Candidate, Task
from ..recipe import Recipe
from ..setting import DRAWS, MOST_DRAWS, TOOLS
from ..units import whole_number
from .search import Asked, Pours, Search, levels_of
from .shares import Share, paired_pm, pours_inside

FINEST_STEP = 1.0  # of a finer measure that is proposed [mL]


@dataclass(frozen=True, slots=True)
class Poured:
    """An answer of `reach`, and the share of its pours that lie inside the wanted bands.

    `within` says it of each single pour.
    """

    answer: Answer
    share: Share
    within: np.ndarray = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class Raise:
    """One thing changed at the same amounts, or the measure at new ones, and the share that it brings."""

    what: Fact
    share: Share
    gain: float  # by how much the share is larger
    gain_pm: float  # half-width that holds 19 in 20, of the same pours before and after

    @property
    def told(self) -> bool:
        """Whether the gain is more than chance in the pours."""
        return self.gain > self.gain_pm


@dataclass(frozen=True, slots=True)
class Forgiving:
    """What `most_pours` found.

    Attributes
    ----------
    plain : Poured
        The nearest answer, as `reach` gives it.
    best : Poured
        The amounts with the largest share; the plain ones where nothing has a larger.
    gain, gain_pm : float
        How much larger the share is, and the half-width that holds 19 in 20: the same pours stand behind both, so
        that it is less than the two shares' own.
    bands : dict
        The wanted figures of the drink that the pours are held against, each from low to high.
    """

    plain: Poured
    best: Poured
    bands: Bands
    asked: Asked = field(repr=False, compare=False)

    @property
    def gain(self) -> float:
        """0 to 1."""
        return self.best.share.value - self.plain.share.value

    @property
    def gain_pm(self) -> float:
        """Half-width that holds 19 in 20."""
        return paired_pm(self.plain.within, self.best.within)

    @property
    def same(self) -> bool:
        """Whether the plain amounts are the best."""
        return self.best is self.plain

    @property
    def said(self) -> Fact:
        """The two shares, each with the ± of counting so many pours."""
        pours, plain, tool = self.best.share.pours, self.plain.share, _tool(self.asked.tool)
        share, pm = 100 * self.best.share.value, 100 * self.best.share.pm
        if not share:
            return Fact("no pours inside", tool=tool, pours=pours)
        if self.same and self.asked.wishes.get("measure"):
            return Fact("no larger share in steps", tool=tool, pours=pours, share=share, pm=pm)
        if self.same:
            return Fact("no larger share", tool=tool, pours=pours, share=share, pm=pm)
        return Fact(
            "inside for most pours", tool=tool, pours=pours, share=share, pm=pm, plain=100 * plain.value,
            plain_pm=100 * plain.pm, gain=100 * self.gain, gain_pm=100 * self.gain_pm,
        )  # fmt: skip


def _tool(tool: str) -> Fact:
    """What is said of a key of `setting.TOOLS`."""
    words = {"jigger": Fact("tool jigger"), "scale": Fact("tool scale"), "free pour": Fact("tool free pour")}
    return words.get(tool, Fact("tool exact"))


def most_pours(
    target: Mapping[str, Any],
    ingredients: Sequence[Any],
    *,
    tool: str = "jigger",
    display: Display | None = None,
    draws: int = DRAWS,
    seed: int = 1,
    melt: Given | None = None,
    ice: dilution.OwnIce | None = None,
    name: str = "to the target",
    found: Sequence[Answer] | None = None,
    pantry: Pantry | None = None,
    **wishes: Any,
) -> Forgiving:
    """Amounts of which most pours lie inside the wanted bands, beside those that come nearest.

    Parameters
    ----------
    target, ingredients, melt, ice, name, pantry, **wishes
        As for `reach`: limits, ratios, measure, tolerance, technique, serve, after, near, prices, count.
    tool : str
        A key of `setting.TOOLS`: how far the hand shakes, and what has a mark where no `measure` is given.
    display : Display, optional
        Marks in mL or in ounces.
    draws, seed : int
        Which random pours: those of a trial of the same `tool`, `draws` and `seed`.
    found : sequence of Answer, optional
        What `reach` gave for the same, if it is known already.

    Returns
    -------
    Forgiving
        `best` never has a smaller share than `plain`, of the same pours.

    Raises
    ------
    InputError
        As `reach`, and for an unknown tool or no draws.

    Notes
    -----
    A band that was wanted as a number is that number and its tolerance. A wanted cost is that of the amounts as they
    are written, and is no matter of chance.
    The search climbs from the answers of `reach`. Where an amount moves by a few marks, the pours lie around another
    middle with nearly the same scatter: so amounts beside are ranked by their best estimate and the scatter found last,
    those ranked first are poured in full, and the scatter is taken anew at the best. `tests/test_forgiving.py` holds it
    beside every combination of small cases. As the same pours choose and count, a share is a little flattering:
    other pours give less by about one in a hundred.

    Examples
    --------
    >>> sour = {"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)}
    >>> bottles = ["aged rum, 50 %", "lemon juice", "honey syrup", "water"]
    >>> by_hand = most_pours(sour, bottles, tool="free pour", measure=2.5, technique="shaken")
    >>> weighed = most_pours(sour, bottles, tool="scale", measure=2.5, technique="shaken")
    >>> by_hand.best.share.value < weighed.best.share.value
    True
    """
    one_of("tool", tool, TOOLS)
    draws, seed = whole_number(draws, "draws", 1, MOST_DRAWS), whole_number(seed, "seed", high=2**63 - 1)
    shelf = pantry if pantry is not None else _pantry.load()
    show = Display() if display is None else display
    if found is None:
        found = reach.reach(target, ingredients, melt=melt, ice=ice, name=name, tool=tool, pantry=shelf, **wishes)
    wishes = {key: value for key, value in wishes.items() if key != "count"}
    asked = Asked(
        target, ingredients, wishes, {"melt": melt, "ice": ice}, tool, show, draws, seed, shelf, found[0].recipe.name
    )
    bands = {axis: band for axis, band in reach.bands_of(target, wishes.get("tolerance") or {}).items() if axis != COST}
    if not bands:
        raise InputError("target", Told("a cost alone"), "a figure of the drink, which pours can miss")
    task = asked.task(found[0].held if ice is not None else melt)
    starts = np.array([_groups(task, answer.recipe, shelf) for answer in found])
    search = Search(task, Pours(task, asked, found[0]), levels_of(task, tool, show))
    ranked = search.run(starts)
    plain = _poured(asked, found[0], search.within(starts[0]), bands)
    for groups in ranked:
        if np.array_equal(groups, starts[0]):
            break
        best = _better(asked, search, groups, bands, plain)
        if best is not None:
            return Forgiving(plain, best, bands, asked)
    return Forgiving(plain, plain, bands, asked)


def _better(asked: Asked, search: Search, groups: np.ndarray, bands: Bands, plain: Poured) -> Poured | None:
    """These amounts by the trial's own way forward, unless it refuses them or gives them a smaller share."""
    task = search.task
    distance, off = task.judged(groups[None])
    bottles = int((groups > 0) @ task.held)
    candidate = Candidate(groups, float(distance[0]), bottles, (float(distance[0]), float(bottles), float(off[0])))
    try:
        answer = answers_of(task, [candidate], asked.shelf, asked.name, told=False)[0]
        made = _poured(asked, answer, search.within(groups), bands)
    except InputError:
        return None
    return made if made.share.inside >= plain.share.inside else None


def _groups(task: Task, recipe: Recipe, shelf: Pantry) -> np.ndarray:
    """Amounts of a task's groups that a recipe has. [mL]"""
    return task.share @ amounts_of(recipe, task.bottles, shelf) / (task.share**2).sum(axis=1)


def _poured(asked: Asked, answer: Answer, within: np.ndarray, bands: Bands) -> Poured:
    """An answer with its share: over own ice by the trial's own way forward, which the search comes near only."""
    drink = asked.drink(answer)
    if drink.ice is not None:
        within = pours_inside(drink, bands, pantry=asked.shelf)
    else:
        before, _ = trial.poured(
            drink.recipe,
            drink.recipe.amounts,
            np.array([bottle.composition for bottle in drink.recipe.bottles(asked.shelf)]),
        )
        trial.check_dissolved(before, drink.recipe)
    return Poured(answer, Share(int(within.sum()), len(within)), within)


# --- what would raise the share -------------------------------------------------------------------------------


def what_raises(found: Forgiving) -> tuple[Raise, ...]:
    """Single things that would raise the share of the best amounts, the one that raises it most first.

    Parameters
    ----------
    found : Forgiving

    Returns
    -------
    tuple of Raise
        A surer tool, a bottle that was measured (with nothing left of its ±: the most that measuring can bring), melt
        water that is weighed, each at the same amounts; and half the measure, with the amounts set anew.

    Examples
    --------
    >>> sour = {"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)}
    >>> bottles = ["aged rum, 50 %", "lemon juice", "honey syrup", "water"]
    >>> first = what_raises(most_pours(sour, bottles, measure=5, technique="shaken"))[0]
    >>> print(first.what)
    lemon juice measured
    """
    asked, answer = found.asked, found.best.answer
    share = answer.held if asked.way["ice"] is not None else asked.way["melt"]
    task = asked.task(share)
    groups = _groups(task, answer.recipe, asked.shelf)[None]
    before = found.best.within

    def counted(what: Fact, task: Task, groups: np.ndarray, **changes: Any) -> Raise:
        search = Search(task, Pours(task, asked, answer, **changes), [])
        within = search.inside(search.pours.figures(groups)[..., 1:])[0]
        made = Share(int(within.sum()), len(within))
        return Raise(what, made, made.value - found.best.share.value, paired_pm(before, within))

    raised = []
    pours, amounts = Pours(task, asked, answer), task.amounts(groups)[0]
    known = asked.shelf.learned
    own = np.mean(trial.pour_sd(amounts[amounts > 0], asked.tool, known))
    for tool in ("jigger", "scale"):
        if np.mean(trial.pour_sd(amounts[amounts > 0], tool, known)) < own:
            what = Fact("raised by tool", tool=_tool(tool), now=_tool(asked.tool))
            raised.append(counted(what, task, groups, tool=tool))
    for i in np.flatnonzero(amounts).tolist():
        if not np.ptp(pours.parts[:, i], axis=-1).any():  # water
            continue
        what = Fact("raised by measuring", bottle=task.called(i))
        raised.append(counted(what, task, groups, known=i))
    if answer.melt > 0 and asked.way["melt"] is None:
        weighed = replace(asked, way={"melt": answer.melt, "ice": None}).task(answer.melt)
        raised.append(counted(Fact("raised by weighing melt"), weighed, groups))
    finer = _finer(asked, share, answer, groups[0])
    if finer is not None:
        raised.append(counted(*finer))
    return tuple(sorted(raised, key=lambda r: -r.gain))


def raised_most(raised: Sequence[Raise]) -> Fact:
    """What `what_raises` found, in a sentence: the first of it, unless its gain is no more than chance."""
    if not raised or not raised[0].told:
        return Fact("raised by nothing")
    first = raised[0]
    share, pm, gain, gain_pm = (100 * x for x in (first.share.value, first.share.pm, first.gain, first.gain_pm))
    return Fact("raised most by", what=first.what, share=share, pm=pm, gain=gain, gain_pm=gain_pm)


def _finer(
    asked: Asked, share: float | None, answer: Answer, groups: np.ndarray
) -> tuple[Fact, Task, np.ndarray] | None:
    """Half the measure, the task with it, and the best amounts by it; None where nothing is measured so coarsely."""
    coarse = asked.task(share)
    step = max((step for *_, step in coarse.given), default=0.0)
    if not asked.wishes.get("measure") or step < 2 * FINEST_STEP:
        return None
    try:
        task = asked.task(share, measure=step / 2)
    except InputError:  # such as a ratio that it does not give
        return None
    search = Search(task, Pours(task, asked, answer), task.levels)
    best = search.run(groups[None])[0]
    return Fact("raised by step", step=VOLUME(step / 2), now=VOLUME(step)), task, best[None]
