"""A fourteenth attack: what the words for a drink say is in it, in English and four other languages.

The fourteen: Regulation (EU) No 1169/2011, annex II, whose German, French, Spanish and Italian texts have the words here.
"""

from __future__ import annotations

import pytest

from drinklab import cards, menu, own, pantry, service, trial
from drinklab.errors import InputError
from drinklab.recipe import Recipe

SHELF = pantry.load()
SOUR = "45 mL gin\n20 mL lemon juice"


def _run(text=SOUR, **words):
    return trial.run(Recipe.parse(text, **words), pantry=SHELF, draws=0)


def _codes(now):
    return {caution.code for caution in now.cautions}


@pytest.mark.parametrize(
    ("words", "allergens", "codes"),
    [
        ({"glass_ice": "no", "method": "Egg white, dry shake; strain."}, {"eggs"}, {"raw egg"}),
        ({"method": "Ice? No. Milk goes in last."}, {"milk"}, {"dairy"}),
        ({"glass": "tumbler, rim of crushed nut", "glass_ice": "glasses chilled"}, {"nuts"}, set()),
        ({"method": "Cream can be floated on it."}, {"milk"}, {"dairy"}),
        ({"method": "With or without egg white."}, {"eggs"}, {"raw egg"}),
        ({"garnish": "hazelnut milk chocolate"}, {"milk", "nuts"}, set()),
        ({"method": "A float of cocoa cream."}, {"milk"}, {"dairy"}),
    ],
)
def test_no_word_of_another_clause_hides_a_food(words, allergens, codes):
    """ "no" in the field for ice took the egg of the method for left out: the guest's card said that no allergen is known
    in it. "Cream can" was a can, "with or without egg" without, and "milk chocolate" of hazelnuts a milk of theirs."""
    now = _run(**words)
    assert (set(now.allergens), _codes(now)) == (allergens, codes)
    assert "No allergen" not in " ".join(cards.guest(now).notes)


@pytest.mark.parametrize(
    ("method", "allergens"),
    [
        ("Lengthen with lager beer.", {"cereals containing gluten"}),
        ("Rim of gingerbread crumbs.", {"cereals containing gluten"}),
        ("A spoon of soy caramel.", {"soybeans", "milk"}),
        ("A dash of soy sauce.", {"soybeans", "cereals containing gluten"}),
        ("Lecithin air on top.", {"soybeans"}),
        ("Season with Worcestershire sauce.", {"fish"}),
        ("A spoon of lemon curd.", {"eggs", "milk"}),
        ("Rim of white chocolate.", {"milk"}),
        ("Togarashi on the rim.", {"sesame seeds"}),
        ("Furikake on the rim.", {"sesame seeds", "fish"}),
        ("Crushed macarons.", {"eggs", "nuts"}),
        ("Float red wine.", {"sulphites"}),
        ("Rinse the glass with fino sherry.", {"sulphites"}),
        ("Mollusk broth.", {"molluscs"}),
        ("Hot buttered, with butterscotch.", {"milk"}),
    ],
)
def test_more_foods_are_known_by_their_usual_names(method, allergens):
    """Of wine and beer in the method nothing was said, nor of what is made of wheat, soya, fish, egg by another name."""
    now = _run(method=method)
    assert set(now.allergens) == allergens
    one = service.serve(now)
    assert all(menu.held(one, word) == menu.CONTAINS for word in allergens)


@pytest.mark.parametrize(
    ("words", "allergens"),
    [
        ("Weizen, Gerste, Roggen, Hafer; orge, seigle, avoine; trigo, cebada; frumento, orzo", "cereals containing gluten"),
        ("Garnelen; crevettes; crustáceos, gambas; gamberi, crostacei", "crustaceans"),
        ("Eier; œufs; huevos; uova", "eggs"),
        ("Fischsauce; poisson, anchois; pescado; acciughe", "fish"),
        ("Erdnüsse; arachides, cacahuètes; cacahuetes; arachidi", "peanuts"),
        ("Soja; soja; soja; soia", "soybeans"),
        ("Käse, Schlagsahne, Vollmilch; fromage, beurre, crème; queso, mantequilla; formaggio, burro", "milk"),
        ("Haselnüsse, Mandeln; noisettes, amandes, noix; avellanas, nueces; nocciole, mandorle", "nuts"),
        ("Sellerie; céleri; apio; sedano", "celery"),
        ("Senf; moutarde; mostaza; senape", "mustard"),
        ("Sesam; sésame; sésamo; sesamo", "sesame seeds"),
        ("Sulfite, Rotwein; vin; vino, sulfitos; solfiti", "sulphites"),
        ("Lupinen; lupin; altramuces; lupini", "lupin"),
        ("Muscheln, Austern; huîtres, moules; ostras, mejillones; cozze, ostriche", "molluscs"),
    ],
)  # fmt: skip
def test_foods_of_four_languages_are_read(words, allergens):
    """Only eggs and milk were. Each word alone says it."""
    for word in words.replace(";", ",").split(","):
        assert _run(garnish=word.strip()).allergens == (allergens,), word


@pytest.mark.parametrize(
    "words",
    [
        {"garnish": "a crab apple"},
        {"garnish": "oyster leaf"},
        {"method": "Milk thistle tincture; no peanut butter."},
        {"glass": "white wine", "glass_ice": "egg-shaped ice"},
        {"glass": "Irish coffee"},
        {"method": "Im Weinglas, verre à vin, bicchiere da vino, copa de vino."},
        {"method": "Two cream chargers, through butter muslin; wafer-thin cucumber, brushed with a pastry brush."},
        {"method": "Into a stout rocks glass, from a chocolate mould, with a beer tap; water filter cartridge."},
        {"glass": "champagne saucer", "method": "Open with a wine key, from the beer fridge; light a tea light"},
        {"garnish": "nutmeg, coconut flakes, butternut, eggplant, cream of tartar, Muskatnuss"},
        {
            "method": "Top with ginger beer, root beer, ginger ale; noix de coco, crème de cassis, ohne Milch, sans lait."
        },
        {
            "method": "Rice flour, buckwheat, cocoa butter, sunflower lecithin, oyster mushrooms, plant-based milk, latte di cocco."
        },
    ],
)
def test_what_only_sounds_like_a_food_is_none(words):
    now = _run(**words)
    assert (now.allergens, now.may_contain) == ((), ())


def test_chocolate_may_hold_milk_and_soya():
    """US FDA, "Dark Chocolate and Milk Allergies" (2015; from memory): most dark chocolate holds some."""
    one = service.serve(_run(method="Rim of dark chocolate."))
    assert (one.allergens, one.may_contain) == ((), ("soybeans", "milk"))
    assert "May contain soybeans, milk" in str(service.menu_line(one))
    assert service.serve(_run(method="Milk chocolate.")).may_contain == ("soybeans",)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ({"method": "Foam from a siphon, charged with N2O."}, "gas pressure"),
        ({"method": "Infuse in a cream whipper, two chargers."}, "gas pressure"),
        ({"method": "Smoke the glass with oak chips."}, "flame at the glass"),
        ({"method": "Wash with raw milk."}, "ask first"),
        ({"method": "Unpasteurised cream on top."}, "ask first"),
        ({"garnish": "wormwood tincture"}, "ask first"),
        ({"garnish": "lait cru"}, "ask first"),
    ],
)
def test_gas_smoke_and_raw_milk_in_words_are_warned_of(words, code):
    """Raw milk: 21 CFR 1240.61. Wormwood: Regulation (EC) No 1334/2008, annex III (thujone)."""
    assert code in _codes(_run(**words))


@pytest.mark.parametrize("name", ["unsweetened cream", "sweetened cream", "canned cream", "clear juice", "half syrup"])
def test_what_says_no_more_than_how_it_is_names_no_bottle(name):
    """ "30 mL unsweetened cream", as an Irish coffee has it, was coconut cream, and the card named no milk."""
    with pytest.raises(InputError, match="must be one of"):
        Recipe.parse(f"45 mL gin\n30 mL {name}")
    assert SHELF.find("unsweetened coconut cream").id == "coconut_cream_unsweetened"
    assert SHELF.find("cream sherry").id == "sherry_sweet"
    if "cream" in name:
        assert _run(garnish=name).allergens == ("milk",)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("goat milk", "dairy"),
        ("licorice cream", "dairy"),
        ("lait demi-écrémé", "dairy"),
        ("lait de vache", "dairy"),
        ("leche desnatada", "dairy"),
        ("leche de vaca", "dairy"),
        ("latte intero", "dairy"),
        ("Vollmilch", "dairy"),
        ("nata montada", "dairy"),
        ("Trockenei", "raw_egg"),
        ("Eiskaffee", "caffeine"),
        ("Chinarinde", "quinine"),
        ("star fruit", "ask_first"),
        ("royal jelly", "ask_first"),
        ("Tonkabohne", "ask_first"),
        ("Bittermandelöl", "ask_first"),
        ("Lakritze", "ask_first"),
        ("Johanniskraut", "ask_first"),
        ("charbon actif", "ask_first"),
    ],
)
def test_a_name_warns_in_the_words_of_a_label(name, code):
    """ "goat milk" ended in oat milk, licorice cream in rice cream, and French and Spanish skimmed milk began as that of a
    plant does. Star fruit: US National Kidney Foundation (from memory). Royal jelly: Australia and New Zealand Food
    Standards Code, standard 1.2.3."""
    assert code in pantry.name_warns(name, "other")


@pytest.mark.parametrize(
    "name",
    ["oat milk", "coconut cream", "plant-based milk", "Hafermilch", "Kokosmilch", "lait d'amande", "lait de coco",
     "leche de coco", "leche de almendra", "nata de coco", "milk thistle", "egg-shaped mould", "cream of tartar",
     "star anise cordial", "butternut syrup"],
)  # fmt: skip
def test_what_only_sounds_so_does_not(name):
    assert pantry.name_warns(name, "other") == ()


def _own(folder, name, kind="syrup", allergens="none", may_contain=""):
    folder.mkdir(exist_ok=True)
    head = "id,name,kind,abv_percent,sugar_g_l,allergens,may_contain\n"
    abv = 40 if kind == "spirit" else 0
    row = f'zz,"{name}",{kind},{abv},0,{allergens},{may_contain}\n'
    (folder / pantry.OWN_FILE).write_text(head + row, encoding="utf-8")
    return pantry.load(folder)


@pytest.mark.parametrize(
    ("name", "kind", "may"),
    [
        ("pistachio orgeat", "syrup", ("nuts",)),
        ("brown butter bourbon", "spirit", ("milk",)),
        ("beer syrup", "syrup", ("cereals containing gluten",)),
        ("Haselnusssirup", "syrup", ("nuts",)),
        ("chocolate syrup", "syrup", ("soybeans", "milk")),
        ("wheat vodka", "spirit", ()),
        ("grande champagne brandy", "spirit", ()),
        ("nutmeg syrup", "syrup", ()),
        ("coconut milk", "other", ()),
    ],
)
def test_what_a_bottles_own_name_says_it_may_contain(tmp_path, name, kind, may):
    """Of a pistachio orgeat for which "none" was ticked a guest read that no allergen is known in it; of one of which
    nobody had said anything, a taster who does not take nuts only that it is not stated. A still leaves cereals behind:
    annex II itself leaves out what distillates are made of."""
    shelf = _own(tmp_path, name, kind)
    assert shelf["zz"].may_contain == may
    now = trial.run(Recipe.parse(f"45 mL gin\n10 mL {name}", shelf), pantry=shelf, draws=0)
    told = " ".join(cards.guest(now).notes)
    assert ("No allergen" in told) == (not may)
    unsaid = _own(tmp_path / "unsaid", name, kind, allergens="")["zz"]
    assert (unsaid.may_contain, unsaid.unstated) == (may, (name,))
    assert _own(tmp_path / "none", name, kind, may_contain="none")["zz"].may_contain == ()


def test_what_is_told_of_a_bottle_is_not_said_twice(tmp_path):
    made = _own(tmp_path, "walnut and egg flip", allergens="nuts (walnut)")["zz"]
    assert (made.allergens, made.may_contain) == (("nuts (walnut)",), ("eggs",))


@pytest.mark.parametrize("sugar", ["1.100", "1.250 g/L", "1.040 g/l"])
def test_honey_with_a_point_between_thousands_is_asked_about(sugar):
    """1.1 g/L was read: honey without sugar. Honey holds some 1150 g/L (its row in datasets/ingredients.csv)."""
    with pytest.raises(InputError, match="either way"):
        own.row("house honey", "syrup", "0", sugar, acid="0", allergens="none")
    for sure, held in (("1.10", "1.1"), ("1100", "1100"), ("12.500 g/L", "12.5"), ("0.100", "0.1")):
        assert own.row("house honey", "syrup", "0", sure, acid="0", allergens="none")["sugar_g_l"] == held
