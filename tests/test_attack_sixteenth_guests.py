"""A sixteenth attack, on what can hurt a guest: alcohol that no figure counts, and figures that hide it."""

import re
import shutil
from html import unescape

import pytest
from all_panels import PANELS, words

from drinklab import cards, cost, gels, menu, pantry, prep, service, share, tables, tasting, trial, whatif, writeup
from drinklab.display import Display
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.spirited import uncounted

SHELF = pantry.load()
SOFT = "90 mL apple juice\n60 mL soda water"


def _run(text: str = SOFT, **rest) -> trial.Trial:
    return trial.run(Recipe.parse(text, name="Soft", technique="built", serve="long", **rest), pantry=SHELF, draws=0)


# --- alcohol that is named and not poured ---------------------------------------------------------------------------
# Who takes no alcohol takes none in a cherry either: fruit soaked in spirit, rinses and sprays of absinthe or vermouth,
# floats and ice of wine are common practice, no published source. The words of other languages: from memory.
NAMED = [
    ({"garnish": "brandied cherry"}, "brandied"), ({"garnish": "rum-soaked raisins"}, "rum"),
    ({"method": "Rinse the glass with absinthe."}, "absinthe"), ({"method": "Build; float overproof rum."}, "rum"),
    ({"glass_ice": "ice of red wine"}, "wine"), ({"method": "Spray with dry vermouth"}, "vermouth"),
    ({"glass": "coupe, washed with mezcal"}, "mezcal"), ({"garnish": "in Kirschwasser eingelegte Kirsche"}, "kirsch"),
    ({"method": "Rincer le verre au cognac"}, "cognac"), ({"method": "Perfumar con ron"}, "ron"),
    ({"method": "Finish with a dash of aromatic bitters"}, "bitters"), ({"garnish": "ciliegia alla grappa"}, "grappa"),
    ({"method": "Top with house kombucha"}, "kombucha"), ({"method": "Float tepache."}, "tepache"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "named"), NAMED)
def test_what_names_alcohol_is_not_called_alcohol_free(words, named):
    now = _run(**words)
    for country in ("United Kingdom", "Germany"):  # each has a limit that the pours alone are within
        one = service.serve(now, country)
        assert service.serve(_run(), country).free is True
        assert one.free is False
        assert any(named in word for word in one.named)
        said = " ".join(service.notes(one, Display()))
        assert "Do not call it alcohol-free" in said
        assert "may be called" not in said
        for text in (service.menu_line(one).text, str(service.strength_words(one)), str(service.facts(one, Display()))):
            assert "lcohol-free" not in text
        assert "not counted" in service.menu_line(one).text
    listed = menu.menu([now])
    assert "No drink without alcohol" in " ".join(map(str, listed.without))
    page = cards.menu_page(listed)
    assert page.pages[0][0].strength == "may hold alcohol"
    assert named in page.pages[0][0].line


def test_nor_with_such_a_thing_beside_it():
    jelly = Setting(Recipe.parse("90 mL apple juice", name="cup", technique="none", garnish="brandied cherry"))
    one = service.serve(trial.run(Setting(_run().recipe, beside=(jelly,), draws=0), pantry=SHELF), "United Kingdom")
    assert (one.free, one.named) == (False, ("brandied",))


def test_nor_where_a_bottle_of_ones_own_is_called_so(tmp_path):
    rows = "id,name,kind,abv_percent,sugar_g_l,allergens\nrs,rum syrup,syrup,0,600,none\nng,alcohol-free gin,mixer,0,0,none\n"
    (tmp_path / pantry.OWN_FILE).write_text(rows, encoding="utf-8")
    shelf = pantry.load(tmp_path)
    for name, free in (("rum syrup", False), ("alcohol-free gin", True)):
        drink = Recipe.parse(f"{SOFT}\n20 mL {name}", shelf, technique="built", serve="long")
        assert service.serve(trial.run(drink, pantry=shelf, draws=0), "United Kingdom").free is free


def test_a_taster_who_takes_no_alcohol_is_not_seated_before_it():
    teetotal = tasting.Taster("Ada", ("alcohol",))
    assert tasting.unfit(teetotal, tasting.sample(_run())) == ()
    rinsed = tasting.sample(_run(method="Rinse the glass with absinthe."))
    assert [reason.code for reason in tasting.unfit(teetotal, rinsed)] == ["holds"]


@pytest.mark.parametrize("words", [
    {"glass": "champagne flute"}, {"glass": "wine glass"}, {"glass": "sherry"}, {"glass": "brandy snifter"},
    {"method": "Build in a beer mug, without bitters."}, {"garnish": "alcohol-free gin foam"},
    {"method": "Dry shake, top with soda, double strain."}, {"garnish": "ginger beer ice"}, {"garnish": "maraschino cherry"},
    {"method": "A spoon of sherry vinegar."}, {"garnish": "an orange twist"}, {"glass_ice": "no wine ice"},
])  # fmt: skip
def test_tools_and_what_it_is_made_without_name_none(words):
    assert service.serve(_run(**words), "United Kingdom").free is True


def test_what_is_poured_is_counted():
    stirred = _run("45 mL aged rum\n10 mL absinthe", method="Stir the rum with the spirit of absinthe.", garnish="gin")
    assert uncounted(stirred.recipe, SHELF) == ("gin",)


def test_of_ours_without_alcohol_none_is_called_after_some():
    assert not [item.name for item in SHELF.values()
                if item.abv == 0 and item.state == "liquid" and uncounted(Recipe.parse(f"30 mL {item.id}", SHELF), SHELF)]  # fmt: skip


# --- a strength that rounding hides ---------------------------------------------------------------------------------


@pytest.mark.parametrize("ml", [0.01, 0.05, 0.1, 0.2, 0.5])
@pytest.mark.parametrize("volume", ["mL", "oz"])
def test_no_alcohol_is_written_as_nought(ml, volume):
    """One is above 0 or it is not: 27 CFR 7.26 allows the word alcohol free to what contains none at all."""
    now, show = _run(f"{SOFT}\n{ml} mL aromatic bitters"), Display(volume)
    assert 0 < now.served.profile.abv < 0.15
    one = service.serve(now, "United States")
    told = dict(service.facts(one, show))
    for text in (told["Strength"], told["Alcohol"], cards.label(now, display=show).holds, service.menu_line(one).text,
                 " ".join(word + text for word, text in cards.spec(now, display=show).figures if word != "Contains")):  # fmt: skip
        for nought in (" 0.0 %", " 0.00 %", " 0 %", " 0.0 g:", " 0.0 standard", "Target0.0 %"):
            assert nought not in f" {text}", text


def test_a_weak_batch_has_a_strength():
    """In a caution that is written in whole per cent."""
    bowl = _run("30 L apple juice\n150 mL gin")
    told = next(str(caution) for caution in bowl.cautions if caution.code == "batch")
    assert 0.1 < bowl.served.profile.abv < 0.5
    assert " at 0.2 % vol" in told


# --- what is swapped in ---------------------------------------------------------------------------------------------
# What holds what: the source beside each row of datasets/ingredients.csv.


def test_a_cheaper_bottle_says_what_it_brings():
    drink = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL honey syrup", technique="shaken")
    other = cost.swap(drink, "honey syrup", "orgeat", cost.example())
    assert other.declared.allergens == other.brings.allergens == ("nuts (almond)",)
    tonic = cost.swap(drink, "lemon juice", "grapefruit juice", cost.example())
    assert [caution.code for caution in tonic.brings.cautions] == ["grapefruit"]
    assert cost.swap(drink, "gin", "pisco", cost.example()).brings.said() == ()


def test_a_cheaper_bottle_has_the_strength_it_was_given():
    """On its label: 57 % vol is no 40."""
    drink = Recipe.parse("60 mL gin, 40 %", technique="none")
    assert cost.swap(drink, "gin", "rum_aged, 57 %", cost.example()).change["abv"] == pytest.approx(17, abs=0.1)


def test_the_page_of_a_batch_says_it_too(tmp_path):
    shutil.copy(tables.folder() / "prices.csv", tmp_path / cost.OWN_FILE)
    panel = PANELS["batch"](tmp_path)
    panel.use(Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL grapefruit juice", technique="shaken"))
    panel.swap_out.value, panel.swap_in.value = "lemon juice, fresh", "lime juice"
    assert "Contains" not in unescape(panel.cost.value)
    panel.swap_in.value = "skimmed milk"
    assert "Contains: milk" in unescape(panel.cost.value)


def test_a_question_says_what_its_answer_brings(tmp_path):
    drink = Setting(Recipe.parse("50 mL gin\n25 mL lemon juice\n20 mL sugar syrup", technique="shaken"))
    assert whatif.ask("swap", drink, "orgeat").brings.allergens == ("nuts (almond)",)
    panel = PANELS["bench"](tmp_path)
    panel.use(drink)
    card = panel.asked
    card.which.value = "swap"
    card.place.children[0].value = "orgeat"
    assert "Contains: nuts (almond)" in unescape(card.words.value)
    assert "almond" not in unescape(panel.cautions.value)  # nobody has put it in yet


def test_one_bottle_for_another_on_the_page_for_a_target(tmp_path):
    panel = PANELS["target"](tmp_path)
    panel.use(Recipe.parse("50 mL gin\n25 mL lemon juice\n20 mL sugar syrup", technique="shaken"))
    panel.swapping.selected_index = 0
    panel.swap_old.value = panel.swap_old.options[-1][1]
    panel.swap_new.value = "orgeat"
    assert "nuts (almond)" in words(panel)


# --- a tray of jelly ------------------------------------------------------------------------------------------------


def test_a_label_of_a_jelly_says_what_it_is_made_of_and_how_it_is_eaten():
    """Konjac mini-cups and firm jellies choke: the sources beside the caution in words/cautions.toml."""
    cup = Recipe.parse("60 mL gin\n200 mL apple juice", name="Cup", technique="none")
    for agent, told in (("gelatin", True), ("agar", False)):
        now = trial.run(Setting(cup, steps=(gels.Set(agent, "firm", water=40.0),), serves=10, draws=0), pantry=SHELF)
        said = " ".join(cards.label(now).allergens)
        assert ("With gelatin" in said) is told
        assert "Chew well; not for children" in said
    assert "Chew" not in " ".join(cards.label(trial.run(cup, pantry=SHELF, draws=0)).allergens)


# --- a class's site -------------------------------------------------------------------------------------------------


def test_a_table_of_allergens_leaves_no_place_empty_that_another_word_fills():
    """A column of nuts stands for each of them (Regulation (EU) No 1169/2011, annex II, 8), and nuts may be almonds."""
    sour = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL orgeat", name="Almond", technique="shaken")
    rim = Recipe.parse("45 mL gin\n20 mL lemon juice", name="Rim", technique="shaken", method="Rim of hazelnuts.")
    pages = [
        share.Page(f"{drink.name}.html", "write-up", drink.name, writeup.html(trial.run(drink, pantry=SHELF, draws=0)))
        for drink in (sour, rim)
    ]
    text = share.index_html(pages)
    table = text[text.index('<h2 id="allergens">') : text.index("</table>", text.index('<h2 id="allergens">'))]
    heads = re.findall(r'<th scope="col">([^<]+)</th>', table)[1:]
    rows = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in table.split("<tr>")[2:]]
    assert heads == ["nuts", "nuts (almond)"]
    assert sorted(rows) == [["contains", "contains"], ["contains", "may contain"]]


def test_what_a_write_up_and_the_bench_say_of_alcohol_that_nobody_counted(tmp_path):
    rinsed = _run(method="Rinse the glass with absinthe.")
    assert "whose alcohol no figure counts" in unescape(writeup.html(rinsed))
    panel = PANELS["bench"](tmp_path)
    panel.use(rinsed.recipe)
    assert "whose alcohol no figure counts" in words(panel)
    assert "no figure counts" not in unescape(writeup.html(_run()))
    few = unescape(writeup.html(_run(f"{SOFT}\n0.05 mL aromatic bitters")))
    assert "under 0.05 standard drinks" in few
    assert not re.search(r"\b0\.0 (?:g of alcohol|standard drinks)", few)


# --- made ahead, by functions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("made", "told"), [
    (lambda: prep.acid_solution(10, "lactic"), ("food-grade acid", "burns skin and eyes")),
    (lambda: prep.adjust("orange juice", "lime juice"), ("food-grade acid", "Acid does not make juice keep")),
    (lambda: prep.adjust("orange juice", acids="lactic"), ("burns skin and eyes",)),
    (lambda: prep.syrup(30, mass=100), ("keep it cold",)), (lambda: prep.syrup(15, "lactose", mass=100), ("milk",)),
])  # fmt: skip
def test_what_is_weighed_out_by_a_function_says_what_can_hurt(made, told):
    """As the page says it. Lactic acid of 80 % is corrosive: its data sheets; from memory."""
    assert all(words in made().text() for words in told)
