"""A seventeenth attack, on what can hurt a guest: what is known at one place and dropped or weakened at another."""

import re
from dataclasses import replace
from datetime import date

import pytest

from drinklab import batch, cards, gels, hazards, logbook, menu, own, pantry, service, share, tasting, trial, writeup
from drinklab.cards import labels
from drinklab.declared import declared
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.share import site
from drinklab.workbook.panels.bench import Bench
from drinklab.workbook.parts import bench_words, tasting_words
from drinklab.writeup import live

SHELF = pantry.load()
DAY = date(2027, 1, 30)


def codes(*parts) -> set[str]:
    return {caution.code for caution in declared(*parts).cautions}


def shelf_with(folder, *rows: str):
    (folder / pantry.OWN_FILE).write_text(
        "id,name,kind,abv_percent,sugar_g_l,allergens,caution\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    return pantry.load(folder)


# --- 1. an owner's word that a bottle needs no caution ---------------------------------------------------------------


def test_none_in_the_caution_column_silences_what_the_name_says(tmp_path):
    shelf = shelf_with(
        tmp_path, "own_a,garlic oil syrup,syrup,0,400,none,none", "own_b,garlic oil cordial,syrup,0,400,none,"
    )
    assert codes(shelf["own_a"]) == set()
    assert codes(shelf["own_b"]) == {"infused oil"}
    assert codes(shelf["own_a"].at(0)) == set()
    drink = trial.run(Recipe.parse("45 mL gin\n15 mL garlic oil syrup", shelf), pantry=shelf, draws=0)
    assert "infused oil" not in {c.code for c in drink.cautions}


def test_an_owners_none_is_no_word_for_who_opens_the_trial(tmp_path):
    shelf = shelf_with(tmp_path, "own_a,garlic oil syrup,syrup,0,400,none,none")
    drink = trial.run(Recipe.parse("45 mL gin\n15 mL garlic oil syrup", shelf), pantry=shelf, draws=0)
    path = logbook.save(drink, tmp_path)
    here, there = (logbook.load(path, pantry=known) for known in (shelf, SHELF))
    assert "infused oil" not in {c.code for c in here.cautions}
    assert "infused oil" in {c.code for c in there.cautions}
    told = path.read_text(encoding="utf-8").replace('"no_caution": true', '"no_caution": "yes"')
    path.write_text(told, encoding="utf-8")
    with pytest.raises(InputError, match="no_caution"):
        logbook.load(path, pantry=SHELF)


def test_a_row_written_for_a_person_keeps_its_none(tmp_path):
    shelf = shelf_with(tmp_path, "own_a,garlic oil syrup,syrup,0,400,none,none")
    own.write(tmp_path, own.row("garlic oil syrup", "syrup", 0, 300, acid=0, allergens="none"), replace=True)
    assert pantry.load(tmp_path)["own_a"].sugar == 300
    assert codes(pantry.load(tmp_path)["own_a"]) == codes(shelf["own_a"]) == set()


# --- 2. seven days by the Food Code ----------------------------------------------------------------------------------

# "Fresh oyster liquor", from the bottle that a person has.
RAW_FOOD = "own_r,raw oyster liquor,other,0,0,molluscs,"
LIVE = "own_l,fermented honey,syrup,0,400,none,"


@pytest.mark.parametrize(("row", "named"), [(RAW_FOOD, "raw animal food"), (LIVE, "ferment")])
def test_no_seven_days_for_what_they_are_too_long_for(tmp_path, row, named):
    shelf = shelf_with(tmp_path, row)
    name = row.split(",")[1]
    drink = trial.run(Recipe.parse(f"45 mL gin\n15 mL {name}", shelf), pantry=shelf, draws=0)
    with pytest.raises(InputError, match=f"seven days are too long for .*{named}"):
        cards.label(drink, use_by=labels.FOOD_CODE, made=DAY)
    plain = trial.run(Recipe.parse("45 mL gin\n15 mL lime juice"), draws=0)
    assert "2027-02-05" in cards.label(plain, use_by=labels.FOOD_CODE, made=DAY).dates[1]


@pytest.mark.parametrize(("row", "told"), [(RAW_FOOD, "raw animal food"), (LIVE, "fermenting")])
@pytest.mark.parametrize("more", ["", "\n20 mL cream"])
def test_a_batch_says_how_long_such_a_drink_keeps(tmp_path, row, told, more):
    shelf = shelf_with(tmp_path, row)
    name = row.split(",")[1]
    drink = Setting(Recipe.parse(f"45 mL gin\n15 mL {name}{more}", shelf))
    made = batch.scale(drink, serves=10, pantry=shelf)
    said = " ".join([*(fact.text for fact in made.notes), *(str(row.why) for row in made.rows)])
    assert told in said
    assert "within 7 days" not in said


# --- 3. alcohol of a rinse or a float, in a drink that has some -------------------------------------------------------

MISSING = "of which nothing is poured here: what that adds is in no figure"


def plain(page: str) -> str:
    """As it is read: without scripts, their data and tags."""
    return " ".join(re.sub(r"<script.*?</script>|<[^<>]+>", "", page, flags=re.DOTALL).split())


def rinsed(method="Rinse the glass with absinthe. Stir.", **more) -> trial.Trial:
    return trial.run(Recipe.parse("60 mL rye whiskey\n5 mL sugar syrup", method=method, **more), draws=0)


def test_what_a_method_alone_pours_is_said_to_be_missing_from_the_figures():
    drink = rinsed()
    assert sum(MISSING in fact.text for fact in drink.said) == 1
    assert sum(MISSING in line for line in cards.guest(drink, date=DAY).notes) == 1
    assert plain(writeup.html(drink, author="A. N. Other")).count(MISSING) == 2, "also where a reader tries it"
    assert plain(writeup.markdown(drink, author="A. N. Other")).count(MISSING) == 1
    assert all("alcohol-free" not in line for line in cards.guest(drink, date=DAY).notes)


@pytest.mark.parametrize(
    ("recipe", "method"),
    [
        ("60 mL rye whiskey", "Stir the whiskey, the rye, and pour the spirit."),
        (
            "60 mL bourbon whiskey\n2 mL aromatic bitters",
            "Stir the bourbon with the bitters; strain into a wine glass.",
        ),
        (
            "20 mL gin\n90 mL bottle-fermented sparkling wine",
            "Shake the gin, top with champagne or prosecco in a champagne flute.",
        ),
        ("45 mL white rum", "Dry shake, top with soda."),
        ("45 mL cognac", "Stir the brandy in a brandy snifter."),
        ("45 mL gin\n20 mL coffee liqueur, 20 %", "Add the liqueur, then the gin."),
    ],
)
def test_words_for_what_is_poured_are_not_said_to_be_missing(recipe, method):
    drink = trial.run(Recipe.parse(recipe, method=method), draws=0)
    assert not any(MISSING in fact.text for fact in drink.said)


@pytest.mark.parametrize("word", ["wine", "curacao", "rum", "sherry"])
def test_a_float_of_another_style_is_said_to_be_missing(word):
    mixed = Recipe.parse("60 mL rye whiskey\n20 mL sweet red vermouth\n2 mL orange bitters", method=f"Float {word}.")
    assert any(MISSING in fact.text and word in fact.text for fact in trial.run(mixed, draws=0).said)


def test_one_with_hardly_any_alcohol_is_still_kept_from_the_word_alcohol_free():
    cup = trial.run(Recipe.parse("200 mL apple juice\n2 mL gin", method="Rinse the glass with absinthe."), draws=0)
    assert 0 < cup.served.profile.abv < 1.2
    assert any("Do not call it alcohol-free" in fact.text for fact in cup.said)
    assert any("Do not call it alcohol-free" in line for line in cards.guest(cup, date=DAY).notes)


# --- 4. from surface to surface --------------------------------------------------------------------------------------

# A bottle of each hazard that concerns who drinks, and the word that tells a guest of it.
HAZARDS = {
    "raw oyster liquor": "erved raw", "pure caffeine syrup": "caffeine", "cinchona bark syrup": "quinine",
    "nutmeg syrup": "With nutmeg", "edible lye": "With corrosive", "glitter syrup": "With glitter",
    "monkshood syrup": "ask us before",
}  # fmt: skip


def hazardous(folder, name: str, more: str = "45 mL gin\n") -> tuple[Setting, trial.Trial]:
    shelf = shelf_with(folder, f"own_x,{name},{'other' if 'lye' in name or 'raw' in name else 'syrup'},0,0,none,")
    drink = Setting(Recipe.parse(f"{more}15 mL {name}", shelf, name="Zed"), draws=0)
    return drink, trial.run(drink, pantry=shelf)


def test_no_hazard_of_guests_is_left_out_of_these():
    read = {caution.code for name in HAZARDS for caution in hazards.named(name, True)}
    assert read == set(hazards.OF_GUESTS)


@pytest.mark.parametrize("name", HAZARDS)
def test_a_menu_and_a_label_say_what_the_guest_card_says(tmp_path, name):
    _, drink = hazardous(tmp_path, name)
    word = HAZARDS[name]
    assert word in service.menu_line(service.serve(drink)).text
    assert word in cards.menu_html(cards.menu_page(menu.menu([drink]), date=DAY))
    assert word in " ".join(cards.label(drink, made=DAY, stock="4 × 2 in, 10 on Letter").allergens)


def test_what_ferments_keeps_the_word_alcohol_free_away(tmp_path):
    _, drink = hazardous(tmp_path, "fermented honey", "90 mL apple juice\n")
    assert "ferments" in {c.code for c in drink.cautions}
    one = service.serve(drink, "United Kingdom")
    assert not one.free
    assert one.named == ("what ferments",)
    said = cards.guest(drink, country="United Kingdom", date=DAY)
    assert not any("may be called alcohol-free" in note for note in said.notes)
    assert dict(said.facts).get("Alcohol") != "none"
    assert "no alcohol" not in cards.label(drink, made=DAY).holds


@pytest.mark.parametrize(
    ("recipe", "line"), [("150 mL apple juice", "Do not call it alcohol-free"), ("45 mL gin", MISSING)]
)
def test_spec_card_booklet_and_what_if_page_say_what_no_figure_counts(tmp_path, recipe, line):
    drink = trial.run(Recipe.parse(recipe, method="Rinse the glass with absinthe."), draws=0)
    (tmp_path / "a.html").write_text(writeup.html(drink), encoding="utf-8")
    assert any(line in text for text in cards.spec(drink, date=DAY).cautions)
    assert line in site.index_html(share.pages.finished(tmp_path))
    assert any(line in text for text in live.data(drink)["words"]["about"]["mL °C"])


def test_a_menu_says_it_of_hardly_any_alcohol_too():
    cup = trial.run(Recipe.parse("200 mL apple juice\n2 mL gin", method="Rinse the glass with absinthe."), draws=0)
    assert "With alcohol that is not counted (absinthe)." in service.menu_line(service.serve(cup)).text


def test_oil_of_garlic_is_kept_cold(tmp_path):
    drink, made = hazardous(tmp_path, "garlic oil syrup")
    assert "eep cold" in cards.label(made, made=DAY).warning
    assert "batch with juice" in {fact.code for fact in batch.scale(drink, serves=10, pantry=made.pantry).notes}


def test_a_caution_that_has_changed_since_is_said(tmp_path):
    row = "own_a,house foam,other,0,0,none,"
    shelf = shelf_with(tmp_path, row + "raw_egg")
    path = logbook.save(trial.run(Recipe.parse("45 mL gin\n15 mL house foam", shelf), pantry=shelf, draws=0), tmp_path)
    assert logbook.changed(path, pantry=shelf) == ()
    said = " ".join(fact.text for fact in logbook.changed(path, pantry=shelf_with(tmp_path, row + "none")))
    assert "'house foam' needs a caution of: raw egg when saved, nothing known now." in said


def test_a_strong_serve_is_told_in_the_country_that_is_asked():
    strong = trial.run(Recipe.parse("90 mL gin"), draws=0)
    said = " ".join(cards.guest(strong, country="United Kingdom", date=DAY).notes)
    assert "Strong serve" in said
    assert "United States" not in said


def test_a_soft_jelly_of_alcohol_is_kept_from_children_on_menu_and_label():
    said = _of_jelly()
    assert all("not for" in words and "children" in words for words in said), said


def _of_jelly() -> list[str]:
    setting = Setting(
        Recipe.parse("45 mL gin\n60 mL apple juice", technique="none"),
        steps=(gels.Set("gelatin", firmness="soft"),),
        draws=0,
    )
    drink = trial.run(setting)
    assert {"strong jelly", "choking"} & {c.code for c in drink.cautions} == {"strong jelly"}
    return [service.menu_line(service.serve(drink)).text, " ".join(cards.label(drink, made=DAY).allergens)]


# --- 5. what leaves the bench ----------------------------------------------------------------------------------------


def test_a_method_typed_into_a_write_up_brings_what_it_names():
    bare = trial.run(Recipe.parse("45 mL gin"), draws=0)
    words = "Rim the glass with crushed hazelnuts. Flame the peel. Rinse with absinthe."
    for page in (plain(writeup.html(bare, method=words)), writeup.markdown(bare, method=words)):
        assert "Contains: nuts" in page.replace("*", "")
        assert "Fire at a glass" in page
        assert MISSING in page


def test_what_no_figure_counts_stands_beside_the_alcohol_and_not_in_a_fold():
    cup = trial.run(Recipe.parse("150 mL apple juice", method="Rinse the glass with absinthe."), draws=0)
    page = writeup.html(cup)
    unfolded = plain(re.sub(r"<details.*?</details>", "", page, flags=re.DOTALL))
    assert "0.0 g of alcohol" in unfolded
    assert "Do not call it alcohol-free" in unfolded


def test_a_write_up_for_another_country_tells_its_strong_serve_so():
    page = plain(writeup.html(trial.run(Recipe.parse("90 mL gin"), draws=0), country="United Kingdom"))
    assert "United States, 14" not in page


def test_an_exported_table_has_the_cautions(tmp_path):
    drink = trial.run(Recipe.parse("45 mL gin\n20 mL grapefruit juice\n20 mL egg white"), draws=0)
    logbook.save(drink, tmp_path)
    (table,) = (path for path in logbook.export(logbook.entries(tmp_path).entries, tmp_path) if path.suffix == ".csv")
    assert "grapefruit; raw egg" in table.read_text("utf-8") or "raw egg; grapefruit" in table.read_text("utf-8")
    assert logbook.bring(table, tmp_path / "other").problems == ()


def test_a_bench_never_counts_some_alcohol_as_no_standard_drinks():
    cup = trial.run(Recipe.parse("200 mL apple juice\n1 mL gin"), draws=0)
    assert "under 0.05 standard drinks" in bench_words._alcohol(cup).text
    assert "holds 1.0 standard drinks" in bench_words._alcohol(trial.run(Recipe.parse("45 mL gin"), draws=0)).text


def _all_said(widget) -> str:
    """Every text of a page, of the parts within too."""
    own = str(getattr(widget, "value", ""))
    return own + " ".join(map(_all_said, getattr(widget, "children", ())))


def test_a_bench_tells_of_a_method_as_soon_as_it_is_typed(tmp_path):
    page = Bench(tmp_path)
    page.typed.value = "45 mL gin"
    page._use_typed()
    assert "Fire at a glass" not in _all_said(page)
    page.method.value = "Rim the glass with crushed hazelnuts. Flame the peel. Rinse with absinthe."
    said = _all_said(page)
    assert "Fire at a glass" in said
    assert "nuts" in said.replace("hazelnuts", "")
    assert MISSING in said
    page.method.value = "Stir."
    assert "Fire at a glass" not in _all_said(page)


def test_a_tasting_says_of_alcohol_that_is_not_counted_and_whom_it_is_not_for(tmp_path):
    rinse = {"method": "Rinse the glass with absinthe."}
    first, second = (
        tasting.sample(trial.run(Recipe.parse(f"{ml} mL apple juice", name=name, **more), draws=0))
        for ml, name, more in ((100, "One", rinse), (90, "Two", {}))
    )
    made = tasting.prepare(tasting.plan(6), first, second, tasting.portion(first, second))
    for one in (made, tasting.load(tasting.save(made, tmp_path)[0])):
        said = " ".join(tasting_words.first_words(one, Display()))
        assert "What their words name (absinthe) may bring alcohol that is not counted here." in said
        assert "not for anybody under age" in said
    plain_one = tasting.prepare(tasting.plan(6), second, replace(second, name="Three"), tasting.portion(second, second))
    assert "under age" not in " ".join(tasting_words.first_words(plain_one, Display()))
