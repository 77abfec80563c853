"""What the part that a reader tries writes of very little alcohol: never none."""

from __future__ import annotations

import pytest

from drinklab import share, trial
from drinklab.display import Display
from drinklab.kinds import ABV
from drinklab.recipe import Recipe

pytestmark = pytest.mark.browser


def table(page, word: str, column: int) -> str:
    return page.locator(f".try-figures tbody tr:has(th:text-matches('^{word}')) td").nth(column).inner_text()


@pytest.mark.parametrize(
    ("pour", "strength", "held"),
    [("0.3 mL", "0.04", "0.1"), ("0.02 mL", "under 0.01", "under 0.05"), ("2 mL", "0.3", "0.7")],
)
def test_a_strength_above_nothing_is_never_written_as_nothing(browser, tmp_path, pour, strength, held):
    drink = trial.run(Recipe.parse(f"{pour} gin, 45 %\n300 mL apple juice", technique="none"), draws=0)
    assert Display().text(ABV, drink.served.profile.abv) == f"{strength} % vol", "as the package writes it"
    path = tmp_path / "page.html"
    path.write_text(share.try_page(drink), encoding="utf-8")
    page = browser.new_page()
    page.set_default_timeout(20_000)
    page.goto(path.as_uri())
    page.wait_for_selector(".try-on:not([hidden])")
    assert table(page, "Strength", 0) == strength
    assert table(page, "Strength", 1).startswith(strength)
    said = page.inner_text("[data-part=alcohol]")
    assert said.startswith(f"{held} g of alcohol in one serve"), said
    assert ", 0.0 standard drinks" not in said
    boxes = page.locator(".try-rows input[inputmode]")
    assert float(boxes.nth(1).input_value()) > 0, "a pour"
    boxes.nth(2).fill("0.004")
    boxes.nth(2).dispatch_event("change")
    assert boxes.nth(2).input_value() == "0.004"
    page.close()
