"""The panel of what leaves the bar: it follows the drink in hand, and what it writes is what the page says."""

import math
import re
from dataclasses import replace
from datetime import date

import pytest
from all_panels import words

from drinklab import cards, demo, logbook, pantry, trial
from drinklab.recipe import Recipe
from drinklab.workbook.panels import service as service_panel
from drinklab.workbook.parts import menu_part

SHELF = pantry.load()
DEMO = demo.settings(SHELF)


@pytest.fixture
def panel(tmp_path):
    return service_panel.panel(tmp_path)


def text(widget):
    return re.sub(r"<[^>]+>", "", widget.value)


def made(panel):
    return sorted(path.name for path in (panel.folder / cards.CARDS).glob("*"))


def test_it_opens_on_the_drink_in_hand(tmp_path):
    logbook.put_in_hand(tmp_path, replace(DEMO["Clear Line"], country="Japan"), SHELF)
    panel = service_panel.panel(tmp_path)
    said = words(panel)
    assert "In hand: Clear Line" in said
    assert panel.one.alcohol.value == pytest.approx(trial.run(DEMO["Clear Line"], pantry=SHELF).alcohol)
    assert "Contains:  milk, sulphites" in said
    assert panel.one.country == "Japan"
    assert panel.problem.value == ""


def test_another_country_counts_other_drinks(panel):
    before, grams = panel.one.drinks.value, panel.one.alcohol.value
    panel.country.value = "United Kingdom"
    assert panel.one.drinks.value == pytest.approx(before * 14 / 8)
    assert panel.one.alcohol.value == grams
    assert [row["grams"] for row in panel.chart.rows["drinks"]] == [8, 16, 24]


def test_the_spec_card_is_written_for_print_and_phone(panel):
    panel.garnish.value = "a <b>lemon</b> peel"
    panel.spec_button.click()
    assert [name.partition(".")[2] for name in made(panel)] == ["phone.html", "spec.html"]
    page = (panel.folder / cards.CARDS / made(panel)[1]).read_text(encoding="utf-8")
    assert "a &lt;b&gt;lemon&lt;/b&gt; peel" in page
    assert "55 mL" in page
    assert made(panel)[1] in text(panel.said)
    panel.volume_unit.value = "oz"
    assert panel.step.value == "¼ oz"


def test_guest_card_and_labels(panel):
    panel.guest_button.click()
    panel.count.value, panel.first.value, panel.bottle.value = 3, 20, "70 cl"
    panel.labels_button.click()
    page = (panel.folder / cards.CARDS / made(panel)[1]).read_text(encoding="utf-8")
    assert page.count('class="label"') == 3
    assert "700 mL" in page
    assert "Print it on A4" in text(panel.said)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("count", 0, "Labels is 0"), ("first", 40, "First place on the sheet is 40"), ("bottle", "much", "Volume of the bottle"),
        ("day", None, "Made is empty"), ("use_by", "a date of my own", "Source of the date is empty"),
    ],
)  # fmt: skip
def test_a_label_that_cannot_be_is_refused_in_a_sentence(panel, field, value, said):
    getattr(panel, field).value = value
    panel.labels_button.click()
    assert said in text(panel.said)
    assert made(panel) == []


def test_what_fits_no_card_is_refused_by_name(panel):
    panel.use(Recipe.parse("45 mL gin", method="Stir it.\n" * 200))
    panel.spec_button.click()
    assert text(panel.said).startswith("Method on a spec card of one A5 page is")
    assert made(panel) == []
    panel.use_by.value, panel.until.value = "a date of my own", date(2099, 1, 1)
    panel.source.value = "our own study"
    panel.labels_button.click()
    assert "Use by 2099-01-01 (our own study)" in (panel.folder / cards.CARDS / made(panel)[0]).read_text(
        encoding="utf-8"
    )


def test_a_menu_of_saved_trials(panel):
    logbook.save(trial.run(DEMO["Quiet Carriage"], pantry=SHELF, draws=0), panel.folder, title="Kept")
    panel.menu.button.click()
    assert "Menu is empty" in text(panel.said)
    panel.menu.listed.value = [key for label, key in panel.menu.listed.options if "Kept" in label or "page" in label]
    panel.menu.button.click()
    assert [row["name"] for row in panel.menu.chart.rows["near"]] == ["Quiet Carriage", "First Frost"]
    assert "Alcohol-free" in text(panel.menu.words)
    assert "●" in text(panel.menu.matrix)
    assert "130 kJ" in text(panel.menu.table)
    assert panel.said.value == ""


def test_a_long_menu_has_marks_without_names(panel):
    for number in range(menu_part.NAMED + 1):
        logbook.save(trial.run(DEMO["Late Stove"], pantry=SHELF, draws=0), panel.folder, title=f"Stove {number}")
    panel.menu.button.click()
    panel.menu.listed.value = [key for label, key in panel.menu.listed.options if "Stove" in label and "Saved" in label]
    panel.menu.button.click()
    assert len(panel.menu.chart.rows["picked"]) == menu_part.NAMED + 1
    assert panel.menu.chart.rows["near"] == []
    assert "point at a mark" in text(panel.menu.words)


def test_a_damaged_trial_on_the_menu_is_named(panel):
    path = logbook.save(trial.run(DEMO["Quiet Carriage"], pantry=SHELF, draws=0), panel.folder)
    panel.menu.button.click()
    panel.menu.listed.value = [("saved", str(path))]
    path.write_text("{", encoding="utf-8")
    panel.menu.button.click()
    assert text(panel.said)


def test_nothing_is_said_of_blood_or_driving(panel):
    panel.menu.listed.value = [value for _, value in panel.menu.listed.options]
    panel.menu.button.click()
    assert not re.search(r"\bblood\b(?! )|\bdriv|\bBAC\b", words(panel).replace("Bloody Mary", ""), re.IGNORECASE)


def test_the_menu_is_written_to_print_with_what_to_buy(panel, tmp_path):
    """Serves of each by hand: 30 serves of 45 mL of pisco are 1350 mL, two bottles of 700 mL."""
    panel.menu.print_button.click()
    assert "chosen above first" in panel.said.value
    panel.menu.listed.value = [("demo", name) for name in list(panel._demo)[:3]]
    panel.menu.button.click()
    assert [box.description for box in panel.menu.serves.children] == list(panel._demo)[:3]
    panel.menu.title.value = "The <Halt>, spring"
    panel.menu.paper.value = "Letter"
    panel.menu.print_button.click()
    (path,) = (tmp_path / "cards").glob("*.menu.html")
    page = path.read_text()
    assert "The &lt;Halt&gt;, spring" in page
    assert all(name in page for name in list(panel._demo)[:3])
    panel.menu.serves.children[1].value = 0
    panel.menu.buy_button.click()
    assert "Serves of" in panel.said.value
    for box in panel.menu.serves.children:
        box.value = 30
    panel.menu.button.click()  # what was typed stays
    panel.menu.buy_button.click()
    (path,) = tmp_path.glob("shopping_list*.md")
    text = path.read_text()
    assert all(f"{name} (30)" in text for name in list(panel._demo)[:3])
    poured = sum(
        30 * pour.amount for name in list(panel._demo)[:3] for pour in panel._demo[name].recipe.pours
        if pour.ingredient == "pisco" and panel._demo[name].serves == 1
    )  # fmt: skip
    assert poured == 0 or f"{math.ceil(poured / 700)} × 700 mL" in text
