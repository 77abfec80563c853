"""The write-up opened from disk with the network off: nothing asked for, nothing wrong, good in print."""

from __future__ import annotations

import pytest

from drinklab import balance, classics, writeup
from drinklab.recipe import Recipe
from drinklab.trial import run
from drinklab.workbook.charts import pictures
from drinklab.workbook.charts.place import place_chart

pytestmark = pytest.mark.browser
TITLE = '<script>alert(1)</script> & "quotes"'


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    sour = run(Recipe.parse(
        "45 mL dark rum, 46 %\n20 mL amontillado sherry\n15 mL pineapple juice\n15 mL lemon juice\n20 mL honey syrup\n"
        "20 mL green tea, cold", name="Branch Line, first sour", technique="shaken", family="sour",
    ))  # fmt: skip
    known = classics.load()
    figures = balance.reference(known)
    rows = [
        {"name": r.name, "family": r.family, "technique": r.technique}
        | {axis: float(getattr(figures, axis)[i]) for axis in balance.AXES}
        for i, r in enumerate(known)
    ]
    chart = place_chart(rows, "sour")
    me = [{"label": TITLE} | {axis: getattr(sour.served.profile, axis) for axis in balance.AXES}]
    path, _ = writeup.save(
        sour, tmp_path_factory.mktemp("bar"), title=TITLE, notes=TITLE, baseline=sour,
        chart_html=pictures.interactive_html(chart, me=me), chart_svg=pictures.static_svg(chart, me=me),
        chart_text="The drink among the classics.",
    )  # fmt: skip
    return path


@pytest.fixture
def opened(browser, file):
    """The page, opened at a width, with what it asked for and what went wrong."""
    contexts = []

    def open_(width=1100):
        context = browser.new_context(viewport={"width": width, "height": 900}, offline=True)
        contexts.append(context)
        page, asked, wrong = context.new_page(), [], []
        context.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("dialog", lambda dialog: (wrong.append("a dialog"), dialog.dismiss()))
        page.goto(file.as_uri())
        page.wait_for_selector(".drinklab-chart .vega-embed svg, .drinklab-chart svg.marks")
        return page, asked, wrong

    yield open_
    for context in contexts:
        context.close()


@pytest.mark.parametrize("width", [390, 1100])
def test_opens_from_disk_without_the_internet(opened, file, width):
    page, asked, wrong = opened(width)
    page.wait_for_timeout(500)
    assert [a for a in asked if not a.startswith(("data:", "blob:"))] == [file.as_uri()]
    assert wrong == []
    assert page.inner_text("h1") == TITLE
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_live_chart_lives(opened):
    page, _, wrong = opened()
    mark = page.locator(".drinklab-chart path[aria-roledescription='point'], .drinklab-chart .mark-symbol path").first
    mark.scroll_into_view_if_needed()
    mark.hover(force=True)
    page.wait_for_selector("#vg-tooltip-element.visible")
    assert wrong == []


def test_print_shows_the_still_picture(opened):
    page, _, _ = opened()
    live, still = page.locator("figure .screen"), page.locator("figure img.print")
    assert live.is_visible()
    assert not still.is_visible()
    page.emulate_media(media="print")
    assert still.is_visible()
    assert not live.is_visible()
    assert still.evaluate("i => i.complete && i.naturalWidth > 300")
    for size in ("A4", "Letter"):
        assert page.pdf(format=size).startswith(b"%PDF")
