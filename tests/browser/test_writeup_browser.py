"""The write-up opened from disk with the network off: nothing asked for, nothing wrong, good in print."""

from __future__ import annotations

from importlib import resources

import hostile
import pytest
from test_writeup_others import LONG, long_trial

from drinklab import classics, profile, writeup
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
    figures = profile.reference(known)
    rows = [
        {"name": r.name, "family": r.family, "technique": r.technique}
        | {axis: float(getattr(figures, axis)[i]) for axis in profile.AXES}
        for i, r in enumerate(known)
    ]
    chart = place_chart(rows, "sour")
    me = [{"label": TITLE} | {axis: getattr(sour.served.profile, axis) for axis in profile.AXES}]
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


# Words that are cut (wider than their box, where nothing scrolls) and elements of text that lie on one another.
_SPOILT = """() => {
  const said = [], all = [...document.querySelectorAll("main :is(p, li, h1, h2, h3, th, td, dd, dt, summary, figcaption)")]
    .filter(e => e.checkVisibility() && !e.closest(".vega-embed"));
  for (const e of all) {
    const hidden = getComputedStyle(e).overflowX !== "visible" || getComputedStyle(e).textOverflow === "ellipsis";
    if (e.scrollWidth > e.clientWidth + 1 && e.clientWidth && !e.closest(".scroll, .try-scroll, pre") && !hidden)
      said.push("wider than its box: " + e.textContent.slice(0, 60));
  }
  const leaves = all.filter(e => !all.some(other => other !== e && e.contains(other)) && e.textContent.trim());
  const boxes = leaves.map(e => [e, e.getBoundingClientRect()]).filter(([, b]) => b.width && b.height);
  for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < Math.min(boxes.length, i + 40); j++) {
    const [e, a] = boxes[i], [f, b] = boxes[j];
    if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2)
      said.push("overlap: " + e.textContent.slice(0, 40) + " / " + f.textContent.slice(0, 40));
  }
  return said;
}"""


def test_long_and_hostile_words_on_a_page_that_all_can_read(browser, tmp_path):
    """One page: 12 pours, 9 stages, 200 lines of notes, names of 80 letters, right to left, CJK, and the battery.

    axe-core, by the rules of WCAG 2 A and AA and its own good practice; the page is folded and unfolded, at two widths.
    """
    trial = long_trial("\n".join(LONG.values()).replace("\n", " ")[:120])
    notes = [*hostile.BATTERY, *LONG.values()]
    words = {"author": hostile.NAMES[0], "finding": hostile.NAMES[-1], "licence": LONG["CJK"], "tasted": notes[:3],
             "title": hostile.NAMES[1], "what_if": notes[3:6], "cost": notes[6:9], "baseline": trial}  # fmt: skip
    file, _ = writeup.save(trial, tmp_path, notes="\n".join((notes * 7)[:200]), **words)
    assert file.stat().st_size < 1_500_000
    context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    page, asked, wrong = context.new_page(), [], []
    context.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.expose_function("hit", lambda number: wrong.append(f"attempt {number} ran"))
    page.goto(file.as_uri())
    axe = (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(_SPOILT) == []
        page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
        assert page.evaluate(_SPOILT) == []
        page.evaluate(axe)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        serious = [(v["id"], v["nodes"][0]["html"][:200]) for v in found if v["impact"] in ("serious", "critical")]
        assert serious == []
    for number in page.evaluate("[...document.querySelectorAll('a[href^=\"#\"]')].map(a => a.hash.slice(1))"):
        assert page.evaluate("id => document.getElementById(id) !== null", number)
    context.close()
    assert wrong == []
    assert [a for a in asked if not a.startswith(("data:", "blob:"))] == [file.as_uri()]
