"""What free words name of the fourteen, against an open list of foods in five languages, and what must stay quiet.

The fourteen: Regulation (EU) No 1169/2011, annex II. The list, its licence and where it is from: tests/food_names.csv.

Of its names under the fourteen, these are left out, as they are no food, or another thing, in the words of a bar: "rye"
and "malt" (whisky), sole (in German brine, in Italian the sun), loup, lieu, rouget, limande, snapper (a drink), bleu,
moule (a mould), brassica (cabbage), lactique and lácticos (the acid), suero (a serum), castaña, piñón, frutos secos
(chestnut, pine nut and dried fruit: not of annex II), coquito (a drink of coconut), and peanut oil under nuts.
"""

import csv
from pathlib import Path

import pytest
from growth import grows_less

from drinklab import declared, foods, pantry, trial
from drinklab.recipe import Recipe

_LINES = (Path(__file__).parent / "food_names.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(_LINES[1:]))
LANGUAGES = {"en", "de", "fr", "es", "it"}


def _said(name):
    read = foods.in_drink(name)
    return foods.contained(read, pantry.name_warns(read)), foods.may_contain(read)


def test_the_list_says_where_it_is_from_and_holds_all_fourteen_in_five_languages():
    assert all(word in _LINES[0] for word in ("openfoodfacts-server", "Open Database License", "0022b783", "000e5415"))
    held = {(word, row["language"]) for row in ROWS for word in row["allergens"].split("; ")}
    assert held == {(allergen, language) for allergen in foods._FOOD for language in LANGUAGES}
    assert 300 <= len(ROWS) == len({(row["name"], row["language"]) for row in ROWS})


@pytest.mark.parametrize("allergen", foods._FOOD)
def test_each_name_of_an_open_list_of_foods_is_read(allergen):
    """240 were not: gluten by that word, lactose and marzipan in other languages, crab and lobster in French, cod, trout,
    hake; and scallops in French (noix de Saint-Jacques) were nuts."""
    names = [row["name"] for row in ROWS if allergen in row["allergens"].split("; ")]
    assert [name for name in names if allergen not in _said(name)[0]] == []


def test_no_name_of_the_list_says_what_is_not_in_it():
    """Flour of which the words say "soy flour" is taken for wheat's: a needless word."""
    more = {row["name"]: [w for w in _said(row["name"])[0] if w not in row["allergens"].split("; ")] for row in ROWS}
    assert {name: words for name, words in more.items() if words} == {"soy flour": ["cereals containing gluten"]}


# Of the same list, under no allergen: buckwheat and millet, starch and honey; the rest from memory.
QUIET = """buckwheat; Buchweizenmehl; farine de sarrasin; farine de blé noir; trigo sarraceno; harina de alforfon;
grano saraceno; farina di grano saraceno; kasha; millet; Hirse; amidon de riz; almidón de arroz; Kastanienhonig;
miel de châtaignier; gelée royale; acide lactique; lactic acid; Milchsäure; aubergine; eggplant; avocat; Limette;
nutmeg; butternut; coconut; coconut cream; coconut milk; nata de coco; noix de coco; noix muscade; nuez moscada;
noce moscata; Muskatnuss; Kokosnuss; ginger beer; ginger ale; root beer; cream of tartar; cream soda; milk thistle;
oyster leaf; oyster mushrooms; Austernpilz; crab apple; butterfly pea flower; buttercup; butter knife; egg-shaped ice;
cheesecloth; fine cheesecloth, twice; omakase menu; champagne flute; wine glass; beer mug; cream charger; cream whipper;
nut milk bag; milk jug; coffee filter; fish spoon; rice flour; rice noodles; wheatgrass; rye; single malt; pan; pain;
pan dulce; con le mani; le due mani; sole; moule à glaçons; Kraken; colin; bleu; Codd bottle; cocoa butter;
shea butter; apple butter; Kakaobutter; sunflower lecithin; lécithine de tournesol; gluten-free; glutenfrei;
dairy-free; non-dairy foam; no milk; ohne Ei; sans gluten; senza latte; sin gluten; vegan cream; oyster plant;
shrub of raspberry; barspoon; plum; a peach slice; chestnut; Hefe; burnt orange; pea shoots; crème de cassis;
crème de cacao; creme de menthe; Genuss; Geschirr; strain through muslin; a dry shake; dry shake, top with soda;
Japanese slippers; cold brew; a fine mist of absinthe; rose water; orange flower water; saline; sel; fleur de sel; Ingwerbier"""


@pytest.mark.parametrize("words", [" ".join(words.split()) for words in QUIET.split(";")])
def test_everyday_words_of_a_bar_name_no_food(words):
    assert _said(words) == ((), ())


# --- what the words leave open, and what they had not said --------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "contains", "may"),
    [
        ("pistachio cream", {"nuts"}, {"milk"}),
        ("almond cream", {"nuts"}, {"milk"}),
        ("cashew cream liqueur", {"nuts"}, {"milk"}),
        ("hazelnut creams", {"nuts"}, {"milk"}),
        ("a float of nutcream", {"nuts"}, {"milk"}),
        ("nut cream", {"nuts"}, {"milk"}),
        ("hazelnut spread", {"nuts"}, {"milk"}),
        ("crema di pistacchio", {"nuts"}, {"milk"}),
        ("crema de avellanas", {"nuts"}, {"milk"}),
        ("Haselnusscreme", {"nuts"}, {"milk"}),
        ("vegan pistachio cream", {"nuts"}, set()),
        ("plant-based hazelnut cream", {"nuts"}, set()),
        ("pistachio milk", {"nuts"}, set()),
        ("almond milks", {"nuts"}, set()),
        ("peanut butter", {"peanuts"}, set()),
        ("coconut cream", set(), set()),
        ("oat cream", {"cereals containing gluten"}, set()),
        ("hazelnut milk chocolate", {"nuts", "milk"}, {"soybeans", "milk"}),
        ("cream of pistachio, cream", {"nuts", "milk"}, set()),
        ("surimi stick", {"fish"}, {"crustaceans", "eggs", "soybeans"}),
        ("basil pesto", {"milk"}, {"nuts"}),
        ("sourdough crisp", {"cereals containing gluten"}, set()),
        ("cajeta", {"milk"}, set()),
        ("tres leches", {"milk"}, set()),
        ("leche de tigre", {"fish"}, set()),
        ("noix de Saint-Jacques", {"molluscs"}, set()),
    ],
)
def test_what_a_name_leaves_open_is_said_to_be_perhaps_in_it(words, contains, may):
    """ "Cream" of pistachios, hazelnuts, almonds or cashews was a cream of plants: of milk nothing was said. Surimi, pesto,
    sourdough, cajeta and tres leches named no allergen. What they are made of: common practice, no published source."""
    assert tuple(map(set, _said(words))) == (contains, may)
    now = trial.run(Recipe.parse("45 mL gin", method=f"Serve with: {words}."), draws=0)
    assert (set(now.allergens), set(now.may_contain)) == (contains, may - contains)


@pytest.mark.parametrize("kind", ["liqueur", "syrup", "other"])
def test_a_bottle_of_a_cream_of_nuts_may_hold_milk(tmp_path, kind):
    head = "id,name,kind,abv_percent,sugar_g_l,allergens\n"
    abv = 17 if kind == "liqueur" else 0
    (tmp_path / pantry.OWN_FILE).write_text(f"{head}zz,pistachio cream,{kind},{abv},200,nuts\n", encoding="utf-8")
    assert pantry.load(tmp_path)["zz"].may_contain == ("milk",)


@pytest.mark.parametrize("name", ["minneola", "Mineola juice", "ugli fruit", "honeybell tangelo", "tangelo peel"])
def test_hybrids_of_grapefruit_are_told_with_it_and_that_it_is_not_sure(name):
    """US FDA, "Grapefruit Juice and Some Drugs Don't Mix" (consumer update, 2012): tangelos may act as grapefruit does.
    W. W. Widmer, J. Food Sci. 70 (2005) C419, found no more than traces of what does so in 13 of Florida."""
    now = trial.run(Recipe.parse("45 mL gin", garnish=name), draws=0)
    said = [caution.text for caution in now.cautions if caution.code == "grapefruit"]
    assert len(said) == 1
    assert "tangelo" in said[0]
    assert " may:" in said[0]


def test_the_time_to_read_words_grows_no_faster_than_their_length():
    """They are read at each move of a slider that has changed them; measured: 0.4 ms for 120 letters."""
    words = "Shake hard with ice, then strain into a chilled coupe, float cream and express a lemon twist over it. "

    def read(times):
        declared._named.cache_clear()
        declared._named(words * times)

    grows_less(40, read, 10, 100)
