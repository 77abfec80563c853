"""Two whole drinks by mouse and keyboard alone: from the bottles to one write-up each, closed and found again.

The drinks are of our own making. Their write-ups are run again by the package, figure by figure.
"""

from __future__ import annotations

import re

import pytest
from in_browser import becomes

from drinklab import logbook, profile, writeup

CUBES = "200 mL amontillado sherry, 18 %\n300 mL green tea"
CLEAR_LINE = """450 mL gin, 45 %
250 mL green tea
150 mL pineapple juice
100 mL lime juice
100 mL chamomile cordial"""
LONG_PLATFORM = "1800 mL apple brandy, 42 %\n3000 mL apple juice\n600 mL verjus\n4500 mL water"
FIGURES = ("abv", "sugar", "acid", "volume", "alcohol")


class Bench:
    """The bench as a hand meets it."""

    def __init__(self, page, lab, again: bool = False):
        self.page, self.lab = page, lab
        if again:  # without a new page and a new kernel
            lab.again(page)
            page.set_viewport_size({"width": 1280, "height": 1000})
        else:
            lab.open_bench(page, height=1000)
        self.box = page.locator(".dl-bench").first
        for title in ("How many glasses", "What goes with it"):
            self.box.get_by_role("button", name=title).press("Enter")  # folds open by a key

    def type_recipe(self, name: str, text: str) -> None:
        title = self.page.get_by_text("Type or change the recipe")
        title.click()
        self.box.get_by_label("Name", exact=True).first.fill(name)
        self.box.locator("textarea").first.fill(text)
        self.box.get_by_role("button", name="Use this recipe").click()
        self.box.get_by_role("heading", name=name, exact=True).first.wait_for()

    def add(self, step: str, stage: str) -> None:
        self.box.get_by_label("Next", exact=True).select_option(label=step)
        self.box.get_by_role("button", name="Add", exact=True).first.click()
        self.stages.get_by_role("rowheader", name=stage, exact=True).wait_for()

    def number(self, label: str, value: str) -> None:
        dial = self.box.locator(".widget-hbox", has_text=label).filter(has=self.page.locator(".dl-number")).last
        field = dial.locator(".dl-number input")
        field.fill(value)
        field.press("Tab")

    def press(self, button: str, said: str) -> str:
        self.box.get_by_role("button", name=button, exact=True).click()
        told = self.page.locator(".dl-bench .dl-done", has_text=said).last
        told.wait_for()
        return told.inner_text()

    @property
    def stages(self):
        """The table of what each step makes: the first row is the drink as mixed."""
        mixed = self.page.get_by_role("rowheader", name="mixed", exact=True)
        return self.box.locator(".dl-table", has=mixed).first

    def figures(self) -> str:
        self.page.wait_for_timeout(700)  # what is still being worked out, and what is put in hand
        return self.box.locator(".dl-tiles").first.inner_text() + self.stages.inner_text()


def _page_of(said: str, lab):
    return lab.folder / re.search(r"Written: (writeups/\S+\.html)", said)[1]


def test_clear_line_with_its_cubes(lasting_page, lab, tmp_path):
    page = lasting_page
    bench = Bench(page, lab)
    bench.type_recipe("Cubes", CUBES)
    bench.box.get_by_label("Technique", exact=True).select_option("none")
    bench.add("Set as a jelly", "set")
    bench.box.get_by_label("Set with").select_option("gelatin")
    bench.number("Makes", "20")
    bench.press("Save", "Saved as")

    bench.type_recipe("Clear Line", CLEAR_LINE)
    bench.box.get_by_label("Technique", exact=True).select_option("none")
    bench.add("Add water", "water added")
    bench.add("Wash with milk", "milk-washed")
    bench.box.get_by_role("combobox", name="Milk", exact=True).select_option("skimmed cow's milk")
    bench.add("Rest", "rested")
    bench.add("Filter", "filtered")
    bench.number("Makes", "10")
    with_it = bench.box.get_by_label("With it")
    with_it.select_option(
        label=next(o for o in with_it.locator("option").all_inner_texts() if "Cubes" in o and "Saved" in o)
    )
    bench.box.get_by_role("button", name="Add", exact=True).last.click()
    bench.box.get_by_text("Beside each glass").wait_for()
    shown = bench.figures()
    assert "milk" in bench.box.inner_text()
    page.screenshot(path=tmp_path / "clear_line.png", full_page=True)
    said = bench.press("Write up", "Written:")
    again = writeup.rerun(_page_of(said, lab))
    assert [s.name for s in again.stages] == ["mixed", "water added", "milk-washed", "rested", "filtered", "served"]
    assert "milk" in again.allergens
    assert again.beside[0].recipe.name == "Cubes"
    assert again.setting.serves == 10
    text = _page_of(said, lab).read_text(encoding="utf-8")
    for word in ("skimmed cow's milk", "gelatin", "amontillado", "10 glasses"):
        assert word.replace("'", "&#39;") in text or word in text, word
    # opened anew: the same drink is in hand (on another page and by another kernel: the next test)
    later = Bench(page, lab, again=True)
    becomes(page, later.figures, shown)
    held = logbook.in_hand(lab.folder)
    assert held.setting == again.setting


def test_long_platform_with_its_gas(lasting_page, lab, tmp_path):
    page = lasting_page
    begun = page.locator(".dl-bench").count() > 0  # on the page of the test before
    bench = Bench(page, lab, again=begun)
    bench.type_recipe("Long Platform", LONG_PLATFORM)
    bench.box.get_by_label("Technique", exact=True).select_option("none")
    bench.number("Makes", "60")
    bench.figures()
    page.goto(lab.address("05_carbonation.ipynb"))
    page.wait_for_selector(".dl-bench .noUi-handle", timeout=120_000)
    page.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)
    page.get_by_text("Long Platform").first.wait_for()
    page.get_by_role("button", name="Put this gas into the drink").click()
    page.locator(".dl-done", has_text="is in hand with it").wait_for()
    page.screenshot(path=tmp_path / "gas.png", full_page=True)
    bench = Bench(page, lab)
    assert "carbonated" in bench.figures()
    bench.add("Pour what is gassed", "poured")
    shown = bench.figures()
    said = bench.press("Write up", "Written:")
    again = writeup.rerun(_page_of(said, lab))
    assert [s.name for s in again.stages][-3:] == ["carbonated", "poured", "served"]
    assert again.setting.serves == 60
    assert "pressure" in " ".join(c.text.lower() for c in again.cautions)
    held = logbook.in_hand(lab.folder).setting
    assert held == again.setting
    page.goto("about:blank")
    new = page.context.new_page()
    becomes(new, Bench(new, lab).figures, shown)
    for figure in FIGURES:
        assert getattr(again.served.profile, figure) >= 0
    assert profile.profile(again.served.liquid[0]).abv == pytest.approx(again.served.profile.abv)
    new.close()
