"""What is said of a jelly: cautions, notes, and the order of work."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..boiling import FLAME
from ..pantry import Ingredient, load
from ..steps import Caution
from .agents import Agent

_SIGNIFICANT = (
    1.2  # from here on EU labels of drinks state the strength (Regulation 1169/2011, article 9; from memory) [% vol]
)
_CHOKING = Caution(
    "choking",
    "Choking: a firm jelly swallowed whole can block the airway. Cut it small, serve it with a fork or spoon, and "
    "never to small children. Konjac may not be used in jelly sweets in the EU (Regulation 1333/2008, annex II), and "
    "konjac mini-cups are stopped at the US border (FDA Import Alert 33-15).",
)
MINI_CUP = Caution(
    "mini-cup",
    "Jelly mini-cups: in the EU, a firm jelly in a soft cup that is squeezed into the mouth in one bite may not hold "
    "agar, carrageenan or gellan (Regulation 1333/2008, annex II). Serve it in glass or a fruit shell with a spoon.",
)


def cautions_of(row: Agent, abv: float, step) -> tuple[Caution, ...]:
    """Of a jelly of this strength [% vol], by the step `Set` that makes it."""
    out = []
    if step.firmness != "soft":
        out.append(_CHOKING)
    out += alcohol_cautions(abv, f"this one has {abv:.0f} % vol")
    if row.diet == "animal":
        kind = "fish, an allergen to declare" if step.fish else "pork or beef, some of fish, an allergen"
        text = f"Gelatin is made of {kind}: read the packet, and say on the menu that it is not vegetarian."
        out.append(Caution("gelatin", text))
    return tuple(out)


def alcohol_cautions(abv: float, how_strong: str) -> tuple[Caution, ...]:
    """Of a jelly of at most this strength. [% vol]"""
    text = f"A jelly looks harmless and is eaten fast: {how_strong}. Label it with its strength, keep it from "
    text += "children, and serve it by your local licensing rules."
    return (FLAME,) * (abv > 0) + (Caution("strong jelly", text),) * (abv > _SIGNIFICANT)


def notes_of(row: Agent, abv: float, ph: float, grams: float, step) -> tuple[str, ...]:
    """What to know of a jelly by its strength [% vol], pH and dose [g/L], by the step `Set` that makes it."""
    out = [f"{grams:.1f} g of {row.agent} a litre for a {step.firmness} jelly: {row.texture}."]
    if abv > row.abv_told:
        out.append(
            f"At {abv:.0f} % vol the gelatin may come out as grains: published figures run from 30 to 50 %, so set a "
            "spoonful first."
        )
    elif abv > 0.75 * row.abv_most:
        out.append(
            f"{abv:.0f} % vol is near the {row.abv_most:g} % vol that {row.agent} is used to: set a spoonful first."
        )
    if ph < row.ph_least:
        out.append(f"pH {ph:.1f} is below the {row.ph_least:g} that {row.agent} is made for: it may weep or stay soft.")
    if ph < row.ph_weak:
        weak = "the dose counts that" if row.sour_factor > 1 else "if a spoonful sets too soft, take a quarter more"
        out.append(f"Acid (pH {ph:.1f}) weakens {row.agent}; {weak}.")
    if step.boil_in == "drink" and row.agent != "gelatin" and abv > 0:
        out.append("Boiling the drink itself drives alcohol off: see Boil.")
    if row.agent == "gelatin":
        out.append(f"It melts from {row.melt_low_c:g} °C: keep it cold on a warm terrace.")
    return tuple(out)


# Fruit whose raw juice splits gelatin, which is protein (McGee 2004; second hand). Heat ends it, so canned juice sets.
_SPLITS = ("pineapple", "papaya", "kiwi")
RAW_FRUIT = "Raw pineapple, papaya and kiwi hold enzymes that keep gelatin from setting: boil such a juice first."


def raw_fruit(agent: str, bottles: Sequence[Ingredient] | None = None) -> tuple[str, ...]:
    """Whether raw fruit in it keeps a jelly from setting, as sentences; a rule to mind where its bottles are not known.

    >>> from ..pantry import load
    >>> raw_fruit("gelatin", [load()["gin"]]), raw_fruit("agar")
    ((), ())
    >>> raw_fruit("gelatin", [load()["pineapple_juice"]])[0].partition(":")[0]
    'Raw pineapple juice keeps gelatin from setting'
    """
    if agent != "gelatin":
        return ()
    if bottles is None:
        return (RAW_FRUIT,)
    out, ours = [], load()
    for bottle in bottles:
        if any(word.startswith(_SPLITS) for word in re.findall(r"[a-z]+", bottle.name.lower())):
            out.append(
                f"Raw {bottle.name} keeps gelatin from setting: its enzyme splits it. Boil it first; what is canned or "
                "pasteurised has been."
            )
        elif bottle.kind in ("juice", "other") and bottle.id not in ours:
            out.append(
                f"If {bottle.name!r} holds raw pineapple, papaya or kiwi, boil it first: else gelatin does not set."
            )
    return tuple(out)


def order_of_work(made, boil_in: str, poured: float) -> tuple[str, ...]:
    """How a `Jelly` is made, step by step."""
    agent, grams, water = made.about.agent, f"{made.grams:.1f} g", f"{poured:.0f} mL"
    part = f"{water} of {'the drink, cold' if boil_in == 'drink' else 'cold water'}"
    if made.hold_back >= 0.5 and boil_in == "water":
        share = "" if made.hold_back >= made.water else f"{made.hold_back:.0f} mL of it "
        part += f" ({share}kept back from the drink, without acid and spirit)"
    warm = round(made.warm_to)
    rest = f"have the rest at {warm} °C ({warm * 1.8 + 32:.0f} °F) or more" + (
        ", warmed in warm water" if made.warm_to > 20 else ""
    )
    setting = f"it sets at {made.about.set_low_c:g} to {made.about.set_high_c:g} °C"
    if agent == "gelatin":
        soak = (
            f"Soak {made.sheets:.1f} sheets ({grams}) in plenty of cold water for 5 to 10 minutes; press them out."
            if made.sheets is not None
            else f"Strew {grams} of gelatin on {part}; leave 10 minutes to swell."
        )
        order = [
            soak,
            "Warm it to 50 to 60 °C (120 to 140 °F), with a little of the drink if it needs more, until it has melted. "
            "Never boil it.",
            "Off the heat, stir in the rest at room temperature, spirit last where it is still apart.",
        ]
        setting += ", in the fridge at 4 °C (39 °F), overnight"
    else:
        how = {
            "agar": "bring to the boil and boil gently for 2 minutes or more, until clear",
            "gellan": "heat to 90 °C (194 °F), until clear; use soft water, since hard water keeps it from dissolving",
        }.get(agent, "heat to 80 °C (176 °F), until clear")
        salt = {
            "gellan": ", with a pinch of calcium lactate unless the juice brings calcium enough",
            "kappa carrageenan": "; a little potassium (juice has it) makes it firmer",
            "iota carrageenan": "; a little calcium makes it firmer",
        }.get(agent, "")
        order = [
            f"Mix {grams} of {agent} with the sugar, if any; stir into {part}.",
            f"Stirring, {how}. No spirit in it{', no acid' if boil_in == 'water' else ''}.",
            f"Meanwhile {rest}.",
            f"Off the heat, flame out, stir in the rest at once{salt}; spirit last where it is still apart.",
        ]
        setting += ", within minutes, so pour at once"
    where = f"Pour {made.pieces} of {made.piece_volume:g} mL" if made.pieces else "Pour into the mould"
    order.insert(0, f"Measure {made.drink:.0f} mL of the drink.")
    order += [f"{where}; {setting}.", "Cut, and label it with its strength." if made.abv > 0 else "Cut and serve."]
    return tuple(order)
