"""Random settings of drinks, for tests: iced by rule, by hand or by own ice, with and without later steps."""

import hypothesis.strategies as st

from drinklab import pantry, trial
from drinklab.boiling import Boil
from drinklab.carbonation import Carbonate, Chill
from drinklab.carbonation import Pour as PourGas
from drinklab.dilution import OwnIce
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.recipe import Pour, Recipe
from drinklab.setting import TOOLS, Setting
from drinklab.steps import AddWater, Rest

SHELF = pantry.load()
STRONG = ("gin", "rum_aged", "pisco", "cognac")
SOUR = ("lemon_juice", "lime_juice", "pineapple_juice", "verjus")
SWEET = ("honey_syrup", "simple_syrup", "elderflower_cordial", "sherry_amontillado")
MILKS = ("whole cow's milk", "skimmed cow's milk")


@st.composite
def recipes(draw, washed=False):
    amount = st.floats(10, 60).map(lambda ml: round(ml, 2))
    pours = [
        Pour(draw(st.sampled_from([k for k in STRONG if k in SHELF])), draw(amount)),
        Pour(
            draw(st.sampled_from([k for k in SOUR if k in SHELF])), draw(st.floats(20, 40)) if washed else draw(amount)
        ),
        Pour(draw(st.sampled_from([k for k in SWEET if k in SHELF])), draw(amount)),
    ]
    return Recipe(
        "drawn", pours, technique=draw(st.sampled_from(["stirred", "shaken", "built", "none"])),
        serve=draw(st.sampled_from(["up", "on ice", "long"])), question=draw(st.sampled_from(["", "does it hold?"])),
    )  # fmt: skip


@st.composite
def drawn_settings(draw, beside=True):
    recipe = draw(recipes())
    iced = recipe.technique != "none"
    kind = draw(st.sampled_from(["rule", "hand", "own"] if iced else ["rule", "hand"]))
    share = st.floats(0.05, 0.5).map(lambda x: round(x, 3))
    steps = draw(st.sampled_from([
        (), (AddWater(draw(share)),), (Rest(draw(st.integers(1, 48)), 4),), (Filter(draw(st.integers(1, 2)), 5.0),),
        (AddWater(amount=draw(st.floats(1, 50))), Rest(), Filter(1, 5.0)),
        (Chill(3), Carbonate(volumes=draw(st.floats(1, 3)), temperature=3), PourGas(3)),
        (AddWater(0.6), Boil(0.1)), (AddWater(0.9), Set("agar", water=40.0)),
    ]))  # fmt: skip
    other = ()
    if beside and draw(st.booleans()):
        jelly = Recipe("cubes", (Pour("sherry_amontillado", 100.0), Pour("tea_green", 150.0)), technique="none")
        other = (Setting(jelly, steps=(Set("gelatin", water=40.0),), serves=draw(st.integers(1, 20))),)
    return Setting(
        recipe,
        melt=draw(share) if kind == "hand" else None,
        ice=OwnIce(ice=200, ice_temperature=draw(st.floats(-15, -2)), seconds=draw(st.integers(5, 30))) if kind == "own" else None,
        steps=steps,
        beside=other,
        serves=draw(st.integers(1, 4)),
        tool=draw(st.sampled_from(sorted(TOOLS))),
        country=draw(st.sampled_from(["United States", "Australia", "United Kingdom"])),
        display=Display(draw(st.sampled_from(["mL", "oz"])), draw(st.sampled_from(["°C", "°F"]))),
        draws=draw(st.sampled_from([0, 50])),
        seed=draw(st.integers(0, 5)),
    )  # fmt: skip


def made(setting):
    try:
        return trial.run(setting, pantry=SHELF)
    except InputError:  # too strong for the rule, too cold, too strong to set: said in a sentence
        return None


@st.composite
def washed_settings(draw):
    """What milk clears: sour enough, and gassed or set after it."""
    later = [(), (Filter(1, 5.0),), (Rest(2), Filter(1, 5.0), Chill(3), Carbonate(volumes=2.0, temperature=3))]
    milk = MilkWash(draw(st.sampled_from(MILKS)), share=draw(st.floats(0.1, 0.3)))
    steps = (milk, *draw(st.sampled_from(later)))
    return Setting(
        draw(recipes(washed=True)), steps=steps, serves=draw(st.integers(1, 3)), draws=draw(st.sampled_from([0, 50]))
    )
