"""A seventh attack, on the newest rooms: what was measured, the next glass, and questions of the what-if card."""

import json
from dataclasses import replace

import pytest

from drinklab import logbook, measured, next_glass, pantry, trial, whatif
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook import launch
from drinklab.workbook.parts import what_if

TABLE = pantry.load()
COLUMNS = "id,name,kind,state,abv_percent,sugar_g_l,citric_g_l,allergens,may_contain,caution,source,source_class\n"


def _confirmed(kind, what, value):
    entry = measured.checked(kind, what, value, when="2026-01-05")
    return replace(entry, state=measured.CONFIRMED, id="m_1")


# --- what was measured ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bottle", ["gin, 63 %", "aged rum, 63 %", "overproof white rum, 63 %"])
def test_no_measured_strength_takes_a_caution_away(bottle):
    recipe = Recipe.parse(f"30 mL {bottle}\n20 mL lemon juice")
    weaker = measured.join([_confirmed("strength", bottle, "56 % vol")], TABLE).shelf
    made = trial.run(recipe, pantry=weaker, draws=0)
    assert made.served.profile.abv < trial.run(recipe, draws=0).served.profile.abv
    assert "overproof" in [caution.code for caution in made.cautions]


def test_a_confirmed_reading_that_leaves_no_room_shuts_no_page():
    """97 % vol beside 245 g/L of sugar: every drink with the bottle was refused, and the page to take it back on too."""
    joint = measured.join([_confirmed("strength", "orange liqueur", "97 %")], TABLE)
    (one,) = joint.entries
    assert (one.counts, one.asks.code) == (False, "asked: cannot be")
    assert "leave room" in str(one.asks)
    trial.run(Recipe.parse("50 mL orange liqueur\n20 mL lemon juice"), pantry=joint.shelf, draws=0)


@pytest.mark.parametrize("typed", ["30 mL gin", "30 mL gin, 63 %"])
def test_no_stranger_says_that_a_spirit_was_measured_to_hold_no_alcohol(typed):
    """The page of such a drink would call it alcohol-free."""
    recipe = Recipe.parse(f"{typed}\n100 mL orange juice")
    data = json.loads(json.dumps(logbook.snapshot(trial.run(recipe, draws=0))))
    label = 63.0 if "63" in typed else None
    figures = {"value": 0.0, "pm": 0.0, "prior": 0.0, "prior_pm": 0.0, "label": label, "when": "2026-01-01"}
    gin = data["ingredients"]["gin"]
    gin["measured"] = [{"kind": "strength", "what": "gin", "instrument": "hydrometer", **figures}]
    gin["abv"] = 0.0 if label is None else gin["abv"]
    if label is None:
        assert logbook.revive(data).served.profile.abv == trial.run(recipe, draws=0).served.profile.abv
    else:
        with pytest.raises(InputError, match=r"value of the measured gin is 0.*31.5 to 100"):
            logbook.revive(data)


# --- bottles of strangers ---------------------------------------------------------------------------------------------


def _saved(folder, title, amounts, cells, liking):
    """A trial of somebody who has a cordial of their own, put into a folder that does not."""
    theirs = folder / title
    theirs.mkdir()
    (theirs / pantry.OWN_FILE).write_text(
        f"{COLUMNS}house_cordial,house cordial,syrup,liquid,0,500,0,{cells},me,label\n"
    )
    shelf = pantry.load(theirs)
    gin, juice = amounts
    recipe = Recipe.parse(
        f"{gin} mL gin\n{juice} mL lemon juice\n20 mL house cordial", shelf, name=title, technique="shaken"
    )
    path = logbook.save(trial.run(recipe, pantry=shelf, draws=0), theirs, title=title, note=f"Liking: {liking}")
    (folder / "trials").mkdir(exist_ok=True)
    return path.rename(folder / "trials" / path.name)


NUTS, NONE = "nuts (almond),,grapefruit", "none,none,"


@pytest.mark.parametrize("order", [(NUTS, NONE, NONE), (NONE, NUTS, NONE), (NONE, NONE, NUTS)])
def test_a_later_stranger_s_bottle_takes_no_warning_of_an_earlier_one_s_away(tmp_path, order):
    """Of two that sent a bottle of one id, the second's said none, and the next glass was poured for who can't have it."""
    for i, cells in enumerate(order):
        _saved(tmp_path, f"drink {i}", ((50, 20), (45, 25), (55, 18))[i], cells, 5 + i)
    found = next_glass.propose(next_glass.from_logbook(tmp_path))
    assert found.proposals
    for one in found.proposals:
        assert one.made.allergens == ("nuts (almond)",)
        assert "grapefruit" in [caution.code for caution in one.made.cautions]


def test_nor_on_a_page_with_two_drinks(tmp_path):
    first, second = (logbook.open_saved(_saved(tmp_path, f"drink {i}", (50, 20), cells, 5), pantry=TABLE)
                     for i, cells in enumerate((NUTS, NONE)))  # fmt: skip
    assert second.onto(first.pantry)["house_cordial"].allergens == ("nuts (almond)",)


# --- the next glass and the what-if card ----------------------------------------------------------------------------


def test_the_limit_of_the_next_glass_is_said_with_its_pm():
    """No glass is stronger than 16 %, it was said, of an estimate: as poured, a glass can be."""
    found = next_glass.propose(next_glass.example(TABLE), strongest=16, measure=2.5)
    upper = max(float(one.made.served.high.abv) for one in found.proposals)
    assert upper > max(float(one.made.served.profile.abv) for one in found.proposals)
    (said,) = [str(fact) for fact in found.said() if fact.code.startswith("next glass limit")]
    assert f"beyond {upper:.1f} % vol" in said
    drawn = replace(found, proposals=tuple(
        replace(one, made=trial.run(replace(one.made.setting, draws=0), pantry=TABLE)) for one in found.proposals
    ))  # fmt: skip
    (said,) = [fact for fact in drawn.said() if fact.code.startswith("next glass limit")]
    assert said.code == "next glass limit alone"


def test_what_a_hand_changed_since_the_answer_is_not_undone():
    """The answer waits until a hand rests; what it gave was put into the drink as it stood before."""
    drink = Setting(Recipe.parse("50 mL gin, 40 %\n25 mL lemon juice\n20 mL sugar syrup", technique="shaken"))
    now, taken = [drink], []
    asked = what_if.Asked(lambda: (now[0], TABLE), Display(), taken.append)
    asked.which.value = "spirit"
    more = replace(drink.recipe.pours[1], amount=30.0)
    now[0] = replace(drink, recipe=replace(drink.recipe, pours=(drink.recipe.pours[0], more, drink.recipe.pours[2])))
    asked.take_button.click()
    assert [(pour.amount, pour.abv) for pour in taken[0].recipe.pours] == [(50, 57), (30, None), (20, None)]


def test_a_swap_that_is_put_in_brings_its_allergens():
    drink = Setting(Recipe.parse("50 mL gin\n25 mL lemon juice\n20 mL sugar syrup", technique="shaken"))
    answer = whatif.ask("swap", drink, "orgeat", pantry=TABLE)
    assert answer.now.allergens
    assert trial.run(answer.setting, pantry=TABLE, draws=0).allergens == answer.now.allergens


@pytest.mark.parametrize("prefix", ["/user/%2e%2e/", "/.%2E", "/%", "/%zz/"])
def test_a_prefix_that_a_browser_reads_as_another_is_refused(prefix):
    """To a browser %2e%2e is a ".." (WHATWG URL standard, double-dot URL path segment)."""
    with pytest.raises(InputError, match="names with / between them"):
        launch.url_prefix(prefix)
    assert launch.url_prefix("/user/ada%40example.org") == "/user/ada%40example.org/"


def test_a_day_that_is_a_number_is_one_sentence():
    with pytest.raises(InputError, match="day of the measurement is 5"):
        measured.checked("acid", "lemon juice", "53 g/L", when=5)
