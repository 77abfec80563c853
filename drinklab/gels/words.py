"""What is said of a jelly: cautions, notes, and the order of work."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from .. import texts
from ..boiling import FLAME
from ..facts import Fact
from ..kinds import ABV, TEMPERATURE, VOLUME
from ..pantry import Ingredient, load
from ..steps import Caution
from .agents import Agent

if TYPE_CHECKING:
    from .jellies import Jelly, Set

_SIGNIFICANT = (
    1.2  # from here on EU labels of drinks state the strength (Regulation 1169/2011, article 9; from memory) [% vol]
)
_CHOKING, MINI_CUP = Caution("choking"), Caution("mini-cup")


def cautions_of(row: Agent, abv: float, step: Set) -> tuple[Caution, ...]:
    """Of a jelly of this strength [% vol], by the step `Set` that makes it."""
    out = []
    if step.firmness != "soft":
        out.append(_CHOKING)
    out += alcohol_cautions(abv, Fact("this jelly", abv=ABV(abv)))
    if row.diet == "animal":
        out.append(Caution("gelatin", of=Fact("of fish") if step.fish else Fact("of meat")))
    return tuple(out)


def alcohol_cautions(abv: float, how_strong: Fact) -> tuple[Caution, ...]:
    """Of a jelly of at most this strength. [% vol]"""
    return (FLAME,) * (abv > 0) + (Caution("strong jelly", how_strong=how_strong),) * (abv > _SIGNIFICANT)


def notes_of(row: Agent, abv: float, ph: float, grams: float, step: Set) -> tuple[Fact, ...]:
    """What to know of a jelly by its strength [% vol], pH and dose [g/L], by the step `Set` that makes it."""
    agent = row.agent
    out = [Fact("dose of a jelly", grams=grams, agent=agent, firmness=step.firmness, texture=row.texture)]
    if abv > row.abv_told:
        out.append(Fact("grains of gelatin", abv=ABV(abv)))
    elif abv > 0.75 * row.abv_most:
        out.append(Fact("near the most alcohol", abv=ABV(abv), most=ABV(row.abv_most), agent=agent))
    if ph < row.ph_least:
        out.append(Fact("below the least pH", ph=ph, least=row.ph_least, agent=agent))
    if ph < row.ph_weak:
        counted = row.sour_factor > 1
        out.append(Fact("acid is counted" if counted else "acid weakens", ph=ph, agent=agent))
    if step.boil_in == "drink" and agent != "gelatin" and abv > 0:
        out.append(Fact("boiling in the drink"))
    if agent == "gelatin":
        out.append(Fact("gelatin melts", at=TEMPERATURE(row.melt_low_c)))
    return tuple(out)


# Fruit whose raw juice splits gelatin, which is protein (McGee 2004; second hand). Heat ends it, so canned juice sets.
_SPLITS = ("pineapple", "papaya", "kiwi")
RAW_FRUIT = Fact("raw fruit")


def raw_fruit(agent: str, bottles: Sequence[Ingredient] | None = None) -> tuple[Fact, ...]:
    """Whether raw fruit in it keeps a jelly from setting; a rule to mind where its bottles are not known.

    >>> from ..pantry import load
    >>> raw_fruit("gelatin", [load()["gin"]]), raw_fruit("agar")
    ((), ())
    >>> raw_fruit("gelatin", [load()["pineapple_juice"]])
    (Fact('raw fruit in it', bottle='pineapple juice'),)
    """
    if agent != "gelatin":
        return ()
    if bottles is None:
        return (RAW_FRUIT,)
    out, ours = [], load()
    for bottle in bottles:
        if any(word.startswith(_SPLITS) for word in texts.as_read(bottle.name).split()):
            out.append(Fact("raw fruit in it", bottle=bottle.name))
        elif bottle.kind in ("juice", "other") and bottle.id not in ours:
            out.append(Fact("raw fruit perhaps", bottle=repr(bottle.name)))
    return tuple(out)


def order_of_work(made: Jelly, boil_in: str, poured: float) -> tuple[Fact, ...]:
    """How a `Jelly` is made, step by step."""
    agent = made.about.agent
    setting = {"low": TEMPERATURE(made.about.set_low_c), "high": TEMPERATURE(made.about.set_high_c)}
    order = [Fact("measure the drink", drink=VOLUME(made.drink))]
    if agent == "gelatin":
        if made.sheets is not None:
            order.append(Fact("soak sheets", sheets=made.sheets, grams=made.grams))
        else:
            order.append(Fact("swell gelatin", grams=made.grams, part=_dissolved_in(made, boil_in, poured)))
        order += [Fact("warm gelatin"), Fact("stir in at room temperature")]
        sets = Fact("sets in the fridge", **setting)
    else:
        order += [
            Fact("mix the agent", agent=agent, grams=made.grams, part=_dissolved_in(made, boil_in, poured)),
            Fact("heat in water" if boil_in == "water" else "heat in the drink", how=_HEAT.get(agent, _WARM)),
            Fact("have the rest warm" if made.warm_to > 20 else "have the rest", at=TEMPERATURE(round(made.warm_to))),
            _STIR_IN.get(agent, Fact("stir in at once")),
        ]
        sets = Fact("sets at once", **setting)
    if made.pieces:
        order.append(Fact("pour pieces", pieces=made.pieces, each=VOLUME(made.piece_volume or 0.0), sets=sets))
    else:
        order.append(Fact("pour a mould", sets=sets))
    return (*order, CUT[0] if made.abv > 0 else CUT[1])


CUT = Fact("cut and label"), Fact("cut and serve")
_HEAT, _WARM = {"agar": Fact("boil agar"), "gellan": Fact("heat gellan")}, Fact("heat until clear")
_STIR_IN = {
    "gellan": Fact("stir in with calcium"), "kappa carrageenan": Fact("stir in with potassium"),
    "iota carrageenan": Fact("stir in, calcium helps"),
}  # fmt: skip


def _dissolved_in(made: Jelly, boil_in: str, poured: float) -> Fact:
    """What the agent is stirred into."""
    if boil_in == "drink":
        return Fact("of the drink", water=VOLUME(poured))
    if made.hold_back < 0.5:
        return Fact("of water", water=VOLUME(poured))
    if made.hold_back >= made.water:
        return Fact("of water kept back", water=VOLUME(poured))
    return Fact("of water kept back in part", water=VOLUME(poured), kept=VOLUME(made.hold_back))
