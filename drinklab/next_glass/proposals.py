"""Three glasses worth pouring next, and when to stop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from .. import strength, tasting, texts, trial
from ..declared import declared
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import ABV, LIKING, MASS, VOLUME
from ..pantry import Ingredient
from ..profile import AXES, TITLES
from ..setting import Setting
from ..tasting import SCALES, Portion, Taster
from ..units import number
from . import choosing
from . import palate as palates
from .palate import Palate
from .pours import Pourable, bottles_of, in_measures, pourable, poured_again
from .prior import OWN, Family, OwnAxis, Split, family, splits
from .tasted import Tasted, iced_volume

KINDS = ("safe", "teach", "wild")
NAMES = {"safe": "safe bet", "teach": "to learn most", "wild": "wild card"}
WHY = "Why this version"  # begins the line of a note that says it
_LOOKED_AT = 260  # mixes that are weighed against each other
_POURS = 120  # of one glass, for what pouring alone does
_TRIES = 6  # mixes of one kind that are tried in the bar's measures


@dataclass(frozen=True, slots=True)
class Proposal:
    """A glass worth pouring.

    Attributes
    ----------
    kind : {"safe", "teach", "wild"}
    made : Trial
        As it is poured, in the bar's measures.
    liking, pm : float
        Expected, and half the width that holds 19 in 20. [points]
    gain : float
        What tasting it is expected to raise the best liking known by. [points]
    chance : float
        That it is liked better than the safe bet.
    portion : Portion
        What each taster gets who tastes it beside the glass liked best so far.
    at : array
        [spreads]
    why : Fact
    """

    kind: str
    made: trial.Trial
    liking: float
    pm: float
    gain: float
    chance: float
    portion: Portion
    at: np.ndarray
    why: Fact


@dataclass(frozen=True, slots=True)
class Next:
    """What is known, and what to pour. From `propose`.

    Attributes
    ----------
    best : int
        The glass liked best so far, of `tasted.glasses`.
    left, pouring : float
        What knowing everything would add to the safe bet's liking, and what pouring it anew alone makes it differ by
        (half the width that holds 19 in 20). [points]
    split : tuple of Split
        On which axes tasters are not of one mind, the clearest first; empty where that can't be told.
    left_out : tuple of (bottle, taster, Reason)
        Bottles that somebody can't have.
    """

    tasted: Tasted
    family: Family
    axis: OwnAxis | None
    palate: Palate
    proposals: tuple[Proposal, ...]
    best: int
    left: float
    pouring: float
    split: tuple[Split, ...]
    left_out: tuple[tuple[str, str, tasting.Reason], ...]
    limit: float
    country: str
    strongest: float | None
    pours: Pourable = field(repr=False)

    @property
    def stop(self) -> bool:
        """Whether more tasting is not expected to find anything better than the ± of pouring."""
        return self.left < self.pouring

    def said(self) -> tuple[Fact, ...]:
        """What is known, whether to go on, whether tasters agree, who is not served what, and the alcohol in all."""
        return (*self._known(), self._going_on(), self._agreed(), *self._kept_out(), *self._alcohol())

    def _known(self) -> tuple[Fact, ...]:
        people, glasses = self.tasted.tasters, self.tasted.glasses
        ratings = sum(len(glass.scores) for glass in glasses)
        so_far = {"glasses": len(glasses), "tasters": len(people), "ratings": ratings}
        known = Fact("next glass known", **so_far, choices=len(self.tasted.choices), noise=LIKING(self.palate.noise))
        ways = {(g.setting.recipe.technique, g.setting.recipe.serve, g.setting.steps) for g in glasses}
        return (known, *[Fact("next glass made otherwise")] * (len(ways) > 1))

    def _going_on(self) -> Fact:
        found = {"left": LIKING(self.left), "pouring": LIKING(self.pouring)}
        return Fact("next glass stop", **found) if self.stop else Fact("next glass go on", **found)

    def _agreed(self) -> Fact:
        if not self.split:
            return Fact("next glass minds not told")
        first = self.split[0]
        if not first.shown:
            return Fact("next glass one mind", p=first.p_all)
        people = self.tasted.tasters
        more = tuple(texts.line(people[i]) for i in np.flatnonzero(first.slopes > 0))
        less = tuple(texts.line(people[i]) for i in np.flatnonzero(first.slopes < 0))
        apart = {"axis": self.called(first.axis), "p": first.p_all}
        if more and less:
            return Fact("next glass two minds", **apart, more=more, less=less)
        return Fact("next glass more or less", **apart)

    def called(self, axis: int) -> str:
        """What an axis is called, in a sentence."""
        name = self.family.axes[axis]
        return texts.line(self.axis.name) if name == OWN else TITLES[name].lower()

    def _kept_out(self) -> tuple[Fact, ...]:
        found = tuple(
            Fact("next glass bottle left out", bottle=bottle, taster=texts.line(who), word=why.word)
            for bottle, who, why in self.left_out
        )
        return (*found, *[Fact("next glass limit", most=ABV(self.strongest or 0.0))] * (self.strongest is not None))

    def _alcohol(self) -> tuple[Fact, ...]:
        grams = sum(one.portion.grams for one in self.proposals)
        if not grams > 0:
            return (Fact("next glass no alcohol", tastings=len(self.proposals)),)
        drinks, size = strength.standard_drinks(grams, self.country), strength.countries()[self.country]
        in_all = {
            "tastings": len(self.proposals), "glasses": sum(one.portion.glasses for one in self.proposals),
            "sip": VOLUME(self.proposals[0].portion.sip), "grams": MASS(grams), "drinks": drinks,
            "country": self.country, "size": size,
        }  # fmt: skip
        beyond = Fact("next glass beyond the stop", limit=self.limit)
        return (Fact("next glass alcohol", **in_all), *[beyond] * (drinks > self.limit))


def record(found: Next, one: Proposal) -> Fact:
    """Why a version is poured, as a line to keep with its trial: its sentence begins with `WHY`."""
    told = {
        "glasses": len(found.tasted.glasses), "tasters": len(found.tasted.tasters),
        "liking": LIKING(one.liking, one.pm),
    }  # fmt: skip
    if one.kind == "safe":
        return Fact("why this version safe", **told)
    if one.kind == "teach":
        return Fact("why this version teach", **told, gain=LIKING(one.gain))
    return Fact("why this version wild", **told, chance=100 * one.chance)


def propose(
    tasted: Tasted,
    *,
    base: Setting | None = None,
    own: OwnAxis | None = None,
    strongest=None,
    bottles: Sequence[Ingredient] | None = None,
    measure=None,
    tasters: Sequence[Taster] = (),
    sip=tasting.SIP,
    limit: float = tasting.LIMIT,
    country: str = "United States",
    seed: int = 1,
) -> Next:
    """Three glasses worth pouring next: a safe bet, one that would teach most, a wild card.

    Parameters
    ----------
    tasted : Tasted
        At least three scored glasses.
    base : Setting, optional
        How the next ones are made, and how large; as the glass liked best by default.
    own : OwnAxis, optional
        An axis beside strength, sugar and acid.
    strongest : amount, optional
        No glass is stronger as served. [% vol]
    bottles : sequence of Ingredient, optional
        On hand; all that were tasted by default.
    measure : amount, optional
        All is poured in multiples of it. [mL]
    tasters : sequence of Taster
        Who will taste, with what they can't have: no bottle that holds it is poured. As many as have tasted by default.
    sip, limit, country
        Of the tasting planned: see `tasting.portion`.
    seed : int
        The same one gives the same glasses.

    Returns
    -------
    Next

    Raises
    ------
    InputError
        For fewer than three scored glasses, limits that leave nothing, or a taster who can't have what is in all.
    """
    tasted, shelf = tasted.scored(), tasted.shelf
    if strongest is not None:
        strongest = float(number(strongest, "strength limit"))
        require("strength limit", strongest, 0, ABV.high, ABV.label)
    one_of("country", country, strength.countries())
    values = tasted.own(own) if own is not None else None
    at_first = max(tasted.glasses, key=lambda g: (g.mean == g.mean, g.mean))
    kin = family((base or at_first.setting).recipe.family, values)
    said = tasted.told(kin, own)
    palate = palates.fit(said, before=kin.before)
    means = palate.at(said.at)[0]
    best = int(np.argmax(means))
    base = base or tasted.glasses[best].setting
    everyone = tuple(tasters) or tasting.numbered(max(len(tasted.tasters), 1))
    settings = [glass.setting for glass in tasted.glasses]
    on_hand, left_out = _agreed_to(bottles or bottles_of(settings, shelf), everyone)
    pours = pourable(base, settings, kin, shelf, own=own, bottles=on_hand, strongest=strongest, seen=said.at, seed=seed)
    looked = _few(palate, pours, seed)
    chosen = choosing.choose(palate, pours.at[looked], len(everyone))
    beside = tasting.sample(trial.run(tasted.glasses[best].setting, pantry=shelf, draws=0), tasted.glasses[best].name)
    given = {"sip": sip, "country": country, "limit": limit}
    made, taken = [], []
    for kind, order in _orders(chosen, pours.at[looked], said.at):
        one = _made(kind, order, looked, pours, palate, chosen, kin, own, shelf, measure, strongest, everyone, beside,
                    given, taken)  # fmt: skip
        if one is not None:
            made.append(one)
            taken.append(one.at)
    if not made:
        told = Told("such that nothing can be measured")
        raise InputError("limits", told, "wider: a finer measure, a higher strength, or more bottles")
    around = kin.place(poured_again(made[0].made, shelf, own, _POURS, seed))
    left, pouring = choosing.left_to_find(chosen, seed), choosing.by_pouring(palate, made[0].at, around)
    split = splits(said.at, said.glass, said.taster, said.score)
    return Next(
        tasted, kin, own, palate, tuple(made), best, left, pouring, split, left_out, limit, country, strongest, pours
    )


def _agreed_to(bottles: Sequence[Ingredient], tasters: Sequence[Taster]):
    """Bottles that every taster can have, and those that somebody can't."""
    for taster in tasters:  # a word that nobody can look up is not known to be absent
        names = tuple(bottle.name for bottle in bottles)
        for why in tasting.unfit(taster, tasting.Sample("", 0.0, bottles=names)):
            if why.code == "not known":
                allowed = "a word of an allergen, a caution or a bottle, or this taster left out"
                raise InputError(f"what {taster.name!r} can't have", why.word, allowed)
    kept, out = [], []
    for bottle in bottles:
        one = tasting.Sample(bottle.name, bottle.abv / 100, said=declared(bottle), bottles=(bottle.name,))
        pairs = ((taster.name, why) for taster in tasters for why in tasting.unfit(taster, one))
        reasons = [(who, why) for who, why in pairs if why.code != "not known"]  # it is in another bottle's name
        if reasons:
            out.append((bottle.name, *reasons[0]))
        else:
            kept.append(bottle)
    if not kept:
        bottle, who, why = out[0]
        raise InputError("bottles", Told(f"none that {who} can have ({why.word})"), "some that all tasters can have")
    return tuple(kept), tuple(out)


def _few(palate: Palate, pours: Pourable, seed: int) -> np.ndarray:
    """Which mixes are weighed: the most promising, the least known, and some of all."""
    mean, sd = palate.at(pours.at)
    most = _LOOKED_AT // 4
    rest = np.random.default_rng(seed).permutation(len(mean))[: 2 * most]
    return np.unique(np.r_[np.argsort(-mean)[:most], np.argsort(-(mean + sd))[:most], rest])


def _orders(chosen: choosing.Chosen, at: np.ndarray, seen: np.ndarray):
    """For each kind the mixes to try, the best first."""
    yield "safe", np.argsort(-chosen.mean)
    yield "teach", np.argsort(-chosen.gains)
    far = np.sqrt(((at[:, None] - seen[None]) ** 2).sum(axis=-1)).min(axis=1) >= choosing.FAR
    wild = np.argsort(-chosen.chance)
    yield "wild", wild[far[wild]]


def _made(
    kind, order, looked, pours, palate, chosen, kin, own, shelf, measure, strongest, everyone, beside, given, taken
) -> Proposal | None:
    """The first mix of the list that is a glass of its own in the bar's measures, and within the limits."""
    tries = 0
    apart = choosing.FAR if kind == "wild" else choosing.APART
    for i in order:
        if taken and np.sqrt(((np.array(taken) - pours.at[looked[i]]) ** 2).sum(axis=1)).min() < apart:
            continue
        tries += 1
        if tries > _TRIES:
            return None
        name = f"{texts.line(pours.base.recipe.name)}, {NAMES[kind]}"[: texts.NAME]
        try:
            recipe = in_measures(pours, looked[i], shelf, measure=measure, strongest=strongest, own=own, name=name)
            made = trial.run(replace(pours.base, recipe=recipe), pantry=shelf)
        except InputError:
            continue  # this mix can't be measured or made: the next one may
        if strongest is not None and made.served.profile.abv > strongest + 1e-6:
            continue
        at = _stands(made, kin, own)
        if taken and np.sqrt(((np.array(taken) - at) ** 2).sum(axis=1)).min() < 0.5 * choosing.APART:
            continue
        sample = tasting.sample(made)
        refused = [(who.name, why) for who in everyone for why in tasting.unfit(who, sample) if why.code != "not known"]
        if refused:  # bottles are all agreed to: it is in how the drink is made or garnished, so in every mix
            who, why = refused[0]
            allowed = f"made without what {who} can't have, or {who} left out"
            raise InputError("how the drink is made", Told(f"with {why.found or why.word}"), allowed)
        mean, sd = palate.at(at[None])
        values = {"liking": float(mean[0]), "pm": 2 * float(sd[0]), "gain": float(chosen.gains[i]),
                  "chance": float(chosen.chance[i])}  # fmt: skip
        portion = tasting.portion(sample, beside, SCALES, **given)
        return Proposal(kind, made, **values, portion=portion, at=at, why=_why(kind, values))
    return None


def _why(kind: str, values: Mapping[str, float]) -> Fact:
    if kind == "safe":
        return Fact("next glass why safe")
    if kind == "teach":
        return Fact("next glass why teach", gain=LIKING(values["gain"]))
    return Fact("next glass why wild", chance=100 * values["chance"])


def _stands(made: trial.Trial, kin: Family, own: OwnAxis | None) -> np.ndarray:
    """Where a glass stands, as its best estimate. [spreads]"""
    figures = [getattr(made.served.profile, axis) for axis in AXES]
    if own is not None:
        pours = made.recipe.pours
        figures.append(float(own.of([p.ingredient for p in pours], made.recipe.amounts, np.array(iced_volume(made)))))
    return kin.place(figures)
