"""A list of drinks: its order, doubles and gaps by the rule that is said, and who can have what."""

from itertools import combinations

import numpy as np
import pytest

from drinklab import classics, demo, menu, pantry, profile, service, trial
from drinklab.errors import InputError
from drinklab.recipe import Recipe

SHELF = pantry.load()
DEMO = {name: trial.run(drink, pantry=SHELF, draws=0) for name, drink in demo.settings(SHELF).items()}
KNOWN = classics.load()


def classic(name):
    return trial.run(KNOWN[name], draws=0)


def test_weakest_first_and_each_of_its_own_name():
    listed = menu.menu([*DEMO.values(), DEMO["First Frost"]])
    strengths = [drink.profile.abv for drink in listed.drinks]
    assert strengths == sorted(strengths)
    assert [d.name for d in listed.drinks if d.name.startswith("First Frost")] == ["First Frost", "First Frost (2)"]
    assert ("First Frost", "First Frost (2)") in [pair[:2] for pair in listed.doubles]


def test_doubles_are_by_the_distance_of_the_bench():
    """The distance of `profile.place`, which the bench and the write-up give for the nearest classics."""
    trials = [classic(name) for name in ("Daiquiri", "Whiskey Sour", "Negroni")]
    listed = menu.menu(trials)
    for first, second, distance in listed.doubles:
        by_place = next(
            d for n, _, d in profile.place(classic(first).served.profile, KNOWN, count=105).nearest if n == second
        )
        assert distance == pytest.approx(by_place, rel=1e-6)
        assert distance < menu.DOUBLE
    far = {frozenset(pair[:2]) for pair in listed.doubles}
    assert frozenset(("Daiquiri", "Negroni")) not in far


def test_a_double_is_rare_among_the_classics():
    """Of their pairs, 4 in 100: what the rule calls a double is no usual likeness."""
    figures, scale = profile.reference(KNOWN), profile.scales(KNOWN)
    at = np.array([getattr(figures, a) / scale[a] for a in profile.AXES]).T
    close = [np.sqrt(np.mean((at[i] - at[j]) ** 2)) < menu.DOUBLE for i, j in combinations(range(len(KNOWN)), 2)]
    assert 0.03 < np.mean(close) < 0.05


def test_gaps_are_families_that_nothing_comes_near():
    only = menu.menu([classic("Manhattan")])
    assert "stirred spirit-forward" not in {gap.family for gap in only.gaps}
    assert {"sour", "highball"} <= {gap.family for gap in only.gaps}
    assert all(gap.distance >= 1 and gap.nearest == "Manhattan" for gap in only.gaps)
    assert menu.menu([classic(name) for name in KNOWN.names[:60]]).gaps == ()
    assert "No drink without alcohol is on the list." in map(str, only.said())
    assert any("highball" in line and "Manhattan" in line for line in map(str, only.said()))


def test_the_matrix_holds_all_fourteen():
    listed = menu.menu(list(DEMO.values()))
    rows = dict(listed.matrix())
    assert set(rows) == set(DEMO)
    at = service.ALLERGENS.index
    assert rows["First Frost"][at("eggs")] == menu.CONTAINS
    assert rows["Clear Line"][at("milk")] == menu.CONTAINS
    assert rows["Long Platform"][at("sulphites")] == menu.MAY
    assert rows["Late Stove"] == ("",) * 14
    assert "No drink is known to be free of all fourteen allergens." not in map(str, listed.said())


def test_what_nobody_stated_is_open_in_the_matrix(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text("id,name,kind,abv_percent,sugar_g_l\nown,house cordial,syrup,0,300\n")
    shelf = pantry.load(tmp_path)
    listed = menu.menu(
        [trial.run(Recipe.parse("45 mL gin\n20 mL house cordial\n20 mL egg white", shelf), pantry=shelf, draws=0)]
    )
    row = listed.matrix()[0][1]
    assert row[service.ALLERGENS.index("eggs")] == menu.CONTAINS
    assert set(row) == {menu.CONTAINS, menu.UNKNOWN}


@pytest.mark.parametrize(
    ("trials", "said"), [([], "menu is empty"), ([DEMO["Late Stove"]] * 61, "menu is 61 drinks long")]
)
def test_no_drink_or_too_many(trials, said):
    with pytest.raises(InputError, match=said):
        menu.menu(trials)


def test_an_unknown_country():
    with pytest.raises(InputError, match="country is 'Ruritania'"):
        menu.menu([DEMO["Late Stove"]], "Ruritania")
