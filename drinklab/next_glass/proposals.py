"""Three glasses worth pouring next, and when to stop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import strength, tasting, texts, trial
from ..declared import declared
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import ABV, LIKING, MASS, VOLUME, Given
from ..pantry import Ingredient, Pantry
from ..profile import AXES, TITLES
from ..setting import Setting
from ..tasting import SCALES, Portion, Taster
from ..units import number, single, to_ml, whole_number
from . import choosing
from . import palate as palates
from .palate import Palate
from .pours import Pourable, bottles_of, in_measures, pourable, poured_again
from .prior import OWN, Family, OwnAxis, Split, family, splits
from .tasted import Tasted, iced_volume, poured_of

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
        known = [Fact("next glass known", **so_far, choices=len(self.tasted.choices))]
        if ratings > len(glasses):
            known.append(Fact("next glass scatter", noise=LIKING(self.palate.noise)))
        known += [Fact("next glass choices alone")] * (not ratings)
        ways = {(g.drink.recipe.technique, g.drink.recipe.serve, g.drink.steps) for g in glasses}
        return (*known, *[Fact("next glass made otherwise")] * (len(ways) > 1))

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
        return texts.line(self.axis.name) if self.axis is not None and name == OWN else TITLES[name].lower()

    def _kept_out(self) -> tuple[Fact, ...]:
        found = tuple(
            Fact("next glass bottle left out", bottle=bottle, taster=texts.line(who), word=why.word)
            for bottle, who, why in self.left_out
        )
        if self.strongest is None:
            return found
        if not all(one.made.setting.draws for one in self.proposals):
            return (*found, Fact("next glass limit alone", most=ABV(self.strongest)))
        high = max(float(one.made.served.high.abv) for one in self.proposals)
        return (*found, Fact("next glass limit", most=ABV(self.strongest), high=ABV(high)))

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


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What every proposal keeps to, and what it is weighed by."""

    pours: Pourable
    kin: Family
    own: OwnAxis | None
    palate: Palate
    chosen: choosing.Chosen
    looked: np.ndarray  # which mixes are weighed
    measure: Given | None
    strongest: float | None
    tasters: tuple[Taster, ...]
    beside: tasting.Sample
    tasting: Mapping[str, Any]  # of `tasting.portion`
    shelf: Pantry


def propose(
    tasted: Tasted,
    *,
    base: Setting | None = None,
    own: OwnAxis | None = None,
    strongest: object = None,
    bottles: Sequence[Ingredient] | None = None,
    measure: Given | None = None,
    tasters: Sequence[Taster] = (),
    sip: object = tasting.SIP,
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
        No glass is stronger as served, by its estimate; `Next.said` says with its ±. [% vol]
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
    seed = whole_number(seed, "seed", high=2**63 - 1)
    tasted, shelf = tasted.scored(), tasted.shelf
    most = None if strongest is None else single(number(strongest, "strength limit"), "strength limit")
    if most is not None:
        require("strength limit", most, 0, ABV.high, ABV.label)
    if measure is not None:
        require("measure", single(to_ml(measure, field="measure"), "measure"), 0.01, 1000, "mL")
    one_of("country", country, strength.countries())
    at_first = max(tasted.glasses, key=lambda g: (g.mean == g.mean, g.mean)).drink
    kin = family((base or at_first).recipe.family or "", None if own is None else tasted.own(own))
    said = tasted.told(kin, own)
    palate = palates.fit(said, before=kin.before)
    best = int(np.argmax(palate.at(said.at)[0]))
    liked = tasted.glasses[best]
    everyone = tuple(tasters) or tasting.numbered(max(len(tasted.tasters), 1))
    settings = [glass.drink for glass in tasted.glasses]
    on_hand, left_out = _agreed_to(bottles or bottles_of(settings, shelf), everyone)
    pours = pourable(
        base or liked.drink, settings, kin, shelf, own=own, bottles=on_hand, strongest=most, seen=said.at, seed=seed
    )  # fmt: skip
    looked = _few(palate, pours, seed)
    chosen = choosing.choose(palate, pours.at[looked], len(everyone))
    beside = tasting.sample(trial.run(liked.drink, pantry=shelf, draws=0), liked.name)
    asked = {"sip": sip, "country": country, "limit": limit}
    wanted = _Wanted(pours, kin, own, palate, chosen, looked, measure, most, everyone, beside, asked, shelf)
    made: list[Proposal] = []
    for kind, order in _orders(chosen, pours.at[looked], said.at):
        one = _made(kind, order, wanted, [other.at for other in made])
        made += [] if one is None else [one]
    if not made:
        told = Told("such that nothing can be measured")
        raise InputError("limits", told, "wider: a finer measure, a higher strength, or more bottles")
    around = kin.place(poured_again(made[0].made, shelf, own, _POURS, seed))
    left, pouring = choosing.left_to_find(chosen, seed), choosing.by_pouring(palate, made[0].at, around)
    split = splits(said.at, said.glass, said.taster, said.score)
    return Next(
        tasted, kin, own, palate, tuple(made), best, left, pouring, split, left_out, limit, country, most, pours
    )


def _agreed_to(
    bottles: Sequence[Ingredient], tasters: Sequence[Taster]
) -> tuple[tuple[Ingredient, ...], tuple[tuple[str, str, tasting.Reason], ...]]:
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
        _, name, met = out[0]
        raise InputError("bottles", Told(f"none that {name} can have ({met.word})"), "some that all tasters can have")
    return tuple(kept), tuple(out)


def _few(palate: Palate, pours: Pourable, seed: int) -> np.ndarray:
    """Which mixes are weighed: the most promising, the least known, and some of all."""
    mean, sd = palate.at(pours.at)
    most = _LOOKED_AT // 4
    rest = np.random.default_rng(seed).permutation(len(mean))[: 2 * most]
    return np.unique(np.r_[np.argsort(-mean)[:most], np.argsort(-(mean + sd))[:most], rest])


def _orders(chosen: choosing.Chosen, at: np.ndarray, seen: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """For each kind the mixes to try, the best first."""
    yield "safe", np.argsort(-chosen.mean)
    yield "teach", np.argsort(-chosen.gains)
    far = np.sqrt(((at[:, None] - seen[None]) ** 2).sum(axis=-1)).min(axis=1) >= choosing.FAR
    wild = np.argsort(-chosen.chance)
    yield "wild", wild[far[wild]]


def _made(kind: str, order: np.ndarray, wanted: _Wanted, taken: Sequence[np.ndarray]) -> Proposal | None:
    """The first mix of the list that is a glass of its own in the bar's measures, and within the limits."""
    apart, tries = choosing.FAR if kind == "wild" else choosing.APART, 0
    for i in order:
        mix = int(wanted.looked[i])
        if _nearest(wanted.pours.at[mix], taken) < apart:
            continue
        tries += 1
        if tries > _TRIES:
            break
        made = _poured(kind, mix, wanted)
        if made is None:
            continue
        at = _stands(made, wanted.kin, wanted.own)
        if _nearest(at, taken) < 0.5 * choosing.APART:
            continue
        sample = tasting.sample(made)
        _agreed_to_whole(sample, wanted.tasters)
        mean, sd = wanted.palate.at(at[None])
        gain, chance = float(wanted.chosen.gains[i]), float(wanted.chosen.chance[i])
        portion = tasting.portion(sample, wanted.beside, SCALES, **wanted.tasting)
        return Proposal(
            kind, made, float(mean[0]), 2 * float(sd[0]), gain, chance, portion, at, _why(kind, gain, chance)
        )
    return None


def _nearest(at: np.ndarray, taken: Sequence[np.ndarray]) -> float:
    return min((float(np.sqrt(((at - other) ** 2).sum())) for other in taken), default=np.inf)


def _poured(kind: str, mix: int, wanted: _Wanted) -> trial.Trial | None:
    """A mix in the bar's measures; None where they do not give it, or it would be too strong."""
    base, most = wanted.pours.base, wanted.strongest
    name = f"{texts.line(base.recipe.name)}, {NAMES[kind]}"[: texts.NAME]
    try:
        recipe = in_measures(
            wanted.pours, mix, wanted.shelf, measure=wanted.measure, strongest=most, own=wanted.own, name=name
        )
        made = trial.run(replace(base, recipe=recipe), pantry=wanted.shelf)
    except InputError:  # the next mix may do
        return None
    return made if most is None or made.served.profile.abv <= most + 1e-6 else None


def _agreed_to_whole(sample: tasting.Sample, tasters: Sequence[Taster]) -> None:
    """Refuse a drink that somebody can't have: its bottles are agreed to, so it is in how every mix is made."""
    for taster in tasters:
        for why in tasting.unfit(taster, sample):
            if why.code != "not known":
                allowed = f"made without what {taster.name} can't have, or {taster.name} left out"
                raise InputError("how the drink is made", Told(f"with {why.found or why.word}"), allowed)


def _why(kind: str, gain: float, chance: float) -> Fact:
    if kind == "safe":
        return Fact("next glass why safe")
    if kind == "teach":
        return Fact("next glass why teach", gain=LIKING(gain))
    return Fact("next glass why wild", chance=100 * chance)


def _stands(made: trial.Trial, kin: Family, own: OwnAxis | None) -> np.ndarray:
    """Where a glass stands, as its best estimate. [spreads]"""
    figures = [getattr(made.served.profile, axis) for axis in AXES]
    if own is not None:
        figures.append(float(own.of(*poured_of(made.setting, made.pantry), np.array(iced_volume(made)))))
    return kin.place(np.array(figures))
