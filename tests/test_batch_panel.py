"""The panel of batches without a browser: every control is moved once and its answer read."""

import re
import shutil
from datetime import datetime, timedelta

import pytest

from drinklab import batch, cost, demo, logbook, pantry, tables
from drinklab.workbook.panels import batch as batch_panel

SHELF = pantry.load()
DRINKS = demo.settings(SHELF)
NOW = datetime(2027, 7, 1, 9)


@pytest.fixture
def panel(tmp_path):
    return batch_panel.panel(tmp_path, DRINKS["Long Platform"], now=NOW)


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value)).replace("&#39;", "'")


def _priced(panel):
    shutil.copy(tables.folder() / "prices.csv", panel.folder / cost.OWN_FILE)
    panel.refresh()


def _no_vessel(panel):
    with panel._silently():
        panel.vessel.value = ""
    panel.wish.value = "vessel"


def test_it_opens_on_the_drink_and_shows_what_the_module_finds(panel):
    assert (panel.problem.value, panel.said.value) == ("", "")
    made = batch.scale(DRINKS["Long Platform"], pantry=SHELF, serves=60, vessel="keg, 9.5 L")
    for row in made.rows:
        assert row.name in _text(panel.amounts)
        assert row.text(panel.display) in _text(panel.amounts)
    assert "Serves 60" in _text(panel.headline)
    assert "4150 mL of apple juice" in _text(panel.work)
    assert "No price is known yet" in _text(panel.cost)


def test_it_follows_the_drink_in_hand(tmp_path):
    logbook.put_in_hand(tmp_path, DRINKS["Slow Signal"], SHELF)
    panel = batch_panel.panel(tmp_path, now=NOW)
    assert "In hand: Slow Signal" in _text(panel.head)
    assert "maple syrup" in _text(panel.amounts)
    panel.prediluted.value = True
    assert "1900 mL" in _text(panel.amounts)  # of water: 60 times 31.9 mL
    assert "Chill it" in _text(panel.work)


def test_each_way_to_ask(panel):
    seen = set()
    panel.wish.value = "volume"
    seen.add(_text(panel.headline))
    panel.volume._typed(8000.0)
    seen.add(_text(panel.headline))
    panel.wish.value = "bottles"
    panel.bottle.value = panel.bottle.options[1]
    panel.count._typed(2.0)
    panel.size._typed(1000.0)
    seen.add(_text(panel.headline))
    assert "2000 mL" in _text(panel.amounts)
    panel.wish.value = "vessel"
    panel.count._typed(1.0)
    assert re.search(r"In its vessel 89\d\d mL", _text(panel.headline))
    seen.add(_text(panel.headline))
    panel.vessel.value = "keg, 19 L"
    assert re.search(r"In its vessel 179\d\d mL", _text(panel.headline))
    panel.stays._typed(200.0)
    assert "200 mL stay behind" in _text(panel.amounts)
    assert len(seen) == 4
    assert panel.problem.value == ""


def test_only_the_controls_that_count_are_there(panel):
    def there(control):
        return control.layout.display != "none"

    assert there(panel.serves)
    assert not any(map(there, (panel.volume, panel.bottle, panel.size, panel.papers, panel.freezer, panel.prediluted)))
    panel.choose.value = ("demo", "Clear Line")
    assert there(panel.papers)
    panel.choose.value = ("demo", "Slow Signal")
    assert there(panel.prediluted)
    panel.kept_in.value = True
    assert there(panel.freezer)
    assert "stays liquid" in _text(panel.amounts) or "water is ice" in _text(panel.amounts)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda p: p.serves._typed(0.0), "Serves is 0"), (lambda p: p.serves._typed(2.5), "whole number"),
        (lambda p: setattr(p.time, "value", "7"), "such as 18:00 or 6 pm"), (lambda p: setattr(p.date, "value", None), "a date"),
        (lambda p: setattr(p.vessel, "value", "own"), "Vessel of a drink with gas is one of your own; it must be one of siphon"),
        (lambda p: p.shop._typed(0.0), "ize of a bottle"),
        (_no_vessel, "not chosen"),
    ],
)  # fmt: skip
def test_a_problem_is_one_sentence_and_the_last_answer_stays(panel, change, words):
    before = panel.amounts.value
    change(panel)
    assert words in _text(panel.problem)
    assert panel.amounts.value == before
    panel.save()
    assert "mended first" in _text(panel.said)
    assert not list(panel.folder.glob("batch_*"))


def test_either_clock_on_the_page(panel):
    panel.time.value = "7 pm"
    evening = panel.work.value
    panel.time.value = "19:00"
    assert panel.work.value == evening
    assert panel.problem.value == ""


def test_prices_cost_and_what_to_ask(panel):
    _priced(panel)
    assert "Cost a serve" in _text(panel.headline)
    found = cost.cost(panel.made, cost.load(panel.folder, pantry=SHELF))
    assert cost.money(found.serve, "EUR", panel.country.value) in _text(panel.headline)
    assert "For a pour cost of 20 % ask" in _text(panel.cost)
    before = _text(panel.cost)
    panel.pour_cost._typed(25.0)
    assert _text(panel.cost) != before
    panel.swap_out.value = "calvados (apple brandy)"
    panel.swap_in.value = "pisco"
    assert re.search(r"Pisco (saves|costs) .* a serve; strength", _text(panel.cost))
    panel.swap_in.value = "no such thing"
    assert "no such thing" in _text(panel.cost)
    assert panel.problem.value == ""


def test_a_missing_price_makes_a_part(panel):
    (panel.folder / cost.OWN_FILE).write_text(
        "ingredient,price,currency,pack,pack_unit\napple juice,1.95,EUR,1,L\n", "utf-8"
    )
    panel.refresh()
    assert "Cost a serve, in part" in _text(panel.headline)
    assert "calvados (apple brandy), 42 % no price" in _text(panel.cost)
    assert "no price to ask" in _text(panel.cost)


def test_a_price_list_with_a_mistake_hides_no_batch(panel):
    (panel.folder / cost.OWN_FILE).write_text("ingredient,price,currency,pack,pack_unit\ngin,-2,EUR,1,L\n", "utf-8")
    panel.refresh()
    assert panel.problem.value == ""
    assert "line 2: price is -2" in _text(panel.cost)
    assert "4150 mL" in _text(panel.amounts)


def test_the_form_writes_a_price(panel):
    panel.price_button.click()
    assert "ngredient" in _text(panel.price_said)
    panel.price_of.value = "apple juice, clear"
    panel.price.value, panel.currency.value, panel.pack.value, panel.pack_unit.value = "1,95", "EUR", "1", "L"
    panel.price_button.click()
    assert "Written to my_prices.csv" in _text(panel.price_said)
    assert "apple juice, clear" in _text(panel.cost)
    panel.currency.value = "euros"
    panel.price_button.click()
    assert "ISO 4217" in _text(panel.price_said)


def test_sheet_list_and_hand(panel):
    _priced(panel)
    panel.save()
    (sheet,) = panel.folder.glob("batch_long-platform_*.md")
    text = sheet.read_text("utf-8")
    for words in (
        "# Long Platform, 60 serves",
        "| apple juice, clear | 4150 mL |",
        "## To buy",
        "19:00",
        "## Cost",
        "## Cautions",
    ):
        assert words in text
    panel.keep_button.click()
    panel.choose.value = ("demo", "Clear Line")
    panel.keep_button.click()
    assert "Long Platform (60)" in _text(panel.several)
    assert "Clear Line (20)" in _text(panel.several)
    panel.list_button.click()
    (listed,) = panel.folder.glob("shopping_list_*.md")
    assert "apple juice" in listed.read_text("utf-8")
    assert "limes" in listed.read_text("utf-8")
    panel.clear_button.click()
    assert panel.several.value == ""
    panel._take()
    assert logbook.in_hand(panel.folder).setting.recipe.pours == panel.made.setting.recipe.pours


def test_ounces(panel):
    panel.volume_unit.value = "oz"
    assert "oz" in _text(panel.headline)
    assert " mL" not in _text(panel.amounts)
    assert " mL" not in _text(panel.buy)


def test_the_day_is_the_first_that_can_be_kept_until_a_person_chooses(tmp_path):
    """Two days ahead where that is enough, later where the filter may take longer; a chosen day stays, and is told of."""
    panel = batch_panel.panel(tmp_path, DRINKS["Clear Line"], now=NOW)

    def late_on(day):
        return batch.work(panel.made, datetime.combine(day, panel.serve_at().time()), now=NOW).late

    for hour in ("19:00", "6 am"):
        panel.time.value = hour
        assert not panel.plan.late
        assert panel.date.value == panel.plan.serve_at.date()
        assert late_on(panel.date.value - timedelta(days=1))
        assert "cannot be kept" not in panel.work.value
    panel.date.value = NOW.date() + timedelta(days=2)
    assert panel.date.value == NOW.date() + timedelta(days=2)
    assert "cannot be kept" in panel.work.value
    quick = batch_panel.panel(tmp_path, DRINKS["Long Platform"], now=NOW)
    assert quick.date.value == NOW.date() + timedelta(days=2)
    assert not quick.plan.late
