"""The live chart in a real browser: what `put` sends is drawn, quickly, without growing.

A plain page hosts the widget's own JavaScript; `put` speaks to it by the messages that a
notebook would carry. `python -m pytest -s` prints the times.
"""

from __future__ import annotations

import json
import random
import re
import statistics
import time

import ipywidgets
import pytest

from drinklab.display import Display
from drinklab.workbook import engine
from drinklab.workbook.charts import live, look, pictures
from drinklab.workbook.charts import place as place_charts
from drinklab.workbook.charts.balance import effects_chart
from drinklab.workbook.charts.gels import gel_chart
from drinklab.workbook.charts.reach import target_chart

CLASSICS = [
    {"name": f"{family} {number}", "family": family, "technique": "stirred", "abv": 8.0 + 2.5 * place + 0.3 * number,
     "sugar": 25.0 + 6 * number, "acid": 1.0 + 0.8 * place + 0.1 * number}
    for place, family in enumerate(look.FAMILIES) for number in range(13)
]  # fmt: skip

# What a notebook gives the widget's JavaScript: a model with its state, and a manager that knows other models.
HOST = """
window.makeModel = (state, engineCode) => {
  const heard = {};
  return {
    get: name => state[name],
    on: (name, act) => (heard[name] ??= new Set()).add(act),
    off: (name, act) => heard[name]?.delete(act),
    // The widget with the engine's code, which comes when it is asked for.
    widget_manager: {get_model: async () => {
      let code = "", came;
      return {get: () => code, once: (_, act) => { came = act; }, send: () => { code = engineCode; setTimeout(came, 20); }};
    }},
    update(change) {
      Object.assign(state, change);
      for (const name of Object.keys(change)) for (const act of [...heard["change:" + name] ?? []]) act();
    },
    listeners: () => Object.values(heard).reduce((sum, acts) => sum + acts.size, 0),
  };
};
window.show = async (model, width) => {
  const place = document.body.appendChild(document.createElement("div"));
  if (width) place.style.width = width + "px";
  place.close = widget.render({model, el: place});
  for (let tries = 0; tries < 400 && !place.querySelector("[data-drawn], [role=alert]"); tries++)
    await new Promise(go => setTimeout(go, 25));
  return place;
};
window.redrawn = (place, change) => new Promise(done => {
  const watch = new MutationObserver(() => { watch.disconnect(); done(true); });
  watch.observe(place, {subtree: true, childList: true, attributes: true, characterData: true});
  setTimeout(() => { watch.disconnect(); done(false); }, 5000);
  model.update(change);
});
"""


def me(step: int) -> list[dict]:
    abv, sugar, acid = 14 + 0.02 * step, 60 + 0.05 * step, 5 + 0.005 * step
    return [{"label": f"Clear Line {step}", "abv": abv, "sugar": sugar, "acid": acid, "abv_low": abv - 0.7,
             "abv_high": abv + 0.7, "sugar_low": sugar - 6, "sugar_high": sugar + 6, "acid_low": acid - 0.5,
             "acid_high": acid + 0.5}]  # fmt: skip


def moved(step: int) -> dict:
    """All that moves when a slider moves: the drink, its trail and its neighbours."""
    near = [{key: row[key] for key in ("name", "abv", "sugar", "acid")} for row in CLASSICS[step % 50 :][:5]]
    trail = [{"order": n, "age": 1 - n / 20, **{k: me(step - 20 + n)[0][k] for k in ("abv", "sugar", "acid")}}
             for n in range(21)]  # fmt: skip
    return {"me": me(step), "near": near, "trail": trail}


def host(page, chart: live.LiveChart) -> None:
    """Put the widget's JavaScript and its state on the page as `widget` and `model`."""
    page.set_content("<!doctype html><title>chart</title><body></body>")
    page.add_script_tag(content=HOST)
    page.add_style_tag(content=str(chart._css))
    page.evaluate(
        """async ([code, state, engine]) => {
            const url = URL.createObjectURL(new Blob([code], {type: "text/javascript"}));
            window.widget = (await import(url)).default;
            window.model = makeModel(state, engine);
        }""",
        [str(chart._esm), json.loads(json.dumps(chart.get_state(["spec", "names", "engine", *rows_of(chart)]),
                                                default=str)), engine.vega_bundle()],
    )  # fmt: skip


@pytest.fixture
def page(lasting_page):
    """One for all of these: each test has a document of its own, the engine is read once."""
    return lasting_page


@pytest.fixture
def no_engine_yet(page):
    """Nothing of the tests before, nor of this one afterwards: a window of its own."""
    page.goto("about:blank")
    yield
    page.context.set_offline(False)
    page.goto("about:blank")


def rows_of(chart) -> list[str]:
    return [f"rows_{name}" for name in chart.names]


@pytest.fixture(scope="module")
def picture():
    """Made once: Altair takes seconds for it."""
    picture, rows = live.parted(place_charts.place_chart(CLASSICS, "sour"))
    return picture | {"datasets": picture.get("datasets", {}) | rows}


@pytest.fixture
def chart(page, picture):
    new = live.LiveChart(picture)
    new.put(**moved(0))
    host(page, new)
    page.evaluate("async () => { window.place = await show(model); }")
    new.comm.send = lambda data=None, **_: page.evaluate("change => redrawn(place, change)", data["state"])
    yield new
    new.close()


def said(page, place: str = "place") -> str:
    return page.evaluate(f"{place}.textContent")


def test_put_is_drawn_and_takes_little_time(page, chart, capsys):
    assert "Clear Line 0" in said(page)
    assert "Two charts side by side" in page.evaluate(
        "place.querySelector('[aria-label^=\"Two charts\"]')?.getAttribute('aria-label') ?? ''"
    )
    times = []
    for step in range(1, 61):
        rows = moved(step)
        start = time.perf_counter()
        chart.put(**rows)
        times.append(1000 * (time.perf_counter() - start))
        page.wait_for_timeout(80)
    assert "Clear Line 60" in said(page)
    assert "Clear Line 59" not in said(page)
    assert "NaN" not in page.evaluate("place.innerHTML")
    median, late = statistics.median(times), sorted(times)[int(0.95 * len(times))]
    with capsys.disabled():
        print(f"\nput() to change on the page: median {median:.0f} ms, 95 % within {late:.0f} ms ({len(times)} puts)")
    # A wide bound: it is the order of magnitude that must not slip, on any computer.
    assert median < 400


def test_memory_stays_flat(page, chart, capsys):
    tool = page.context.new_cdp_session(page)
    tool.send("Performance.enable")

    def measured() -> tuple[float, int]:
        tool.send("HeapProfiler.collectGarbage")
        found = {row["name"]: row["value"] for row in tool.send("Performance.getMetrics")["metrics"]}
        return found["JSHeapUsedSize"] / 1e6, int(found["Nodes"])

    for step in range(1, 41):
        chart.put(**moved(step))
    page.wait_for_timeout(300)
    before, nodes = measured()
    for step in range(1, 301):
        chart.put(**moved(step))
    page.wait_for_timeout(300)
    after, nodes_after = measured()
    with capsys.disabled():
        print(f"\nafter 300 puts: heap {before:.1f} to {after:.1f} MB, elements {nodes} to {nodes_after}")
    assert after - before < 2
    assert nodes_after - nodes < 300


def test_a_burst_draws_only_the_last(page, chart):
    draws = page.evaluate(
        """async changes => {
            let draws = 0;
            const watch = new MutationObserver(() => { draws++; });
            watch.observe(place, {subtree: true, childList: true, attributes: true, characterData: true});
            for (const change of changes) { model.update(change); await null; }
            await new Promise(go => setTimeout(go, 1500));
            watch.disconnect();
            return draws;
        }""",
        [{"rows_me": me(step)} for step in range(1, 41)],
    )
    assert "Clear Line 40" in said(page)
    assert draws <= 3


def test_moving_ends_where_drawing_anew_would(page, chart):
    """A chart that was told of changes looks as one drawn from the same rows at once."""
    chance = random.Random(7)
    for _ in range(10):
        rows = moved(chance.randrange(300))
        rows["near"], rows["trail"] = (
            rows["near"][: chance.randrange(6)],
            rows["trail"][: chance.randrange(21)],
        )
        rows["me"][0]["sugar"] += chance.choice([-30, 0, 40, 300])
        rows["base"] = chance.choice([[], [{"abv": chance.uniform(5, 60), "sugar": 50.0, "acid": 5.0}]])
        rows |= place_charts.family_rows(CLASSICS, chance.choice([None, *look.FAMILIES]))
        chosen = chance.sample(sorted(rows), 3)
        same = page.evaluate(
            """async change => {
                model.update(change);
                await new Promise(go => setTimeout(go, 300));
                const anew = await show(model);
                // The order of marks in a layer and the role of empty layers may differ.
                const marks = place => place.querySelector("svg").outerHTML
                    .replace(/role="graphics-(symbol|object)"|clip\\d+|id="[^"]*"/g, "").split(/(?=<)/).sort().join();
                const equal = marks(place) === marks(anew);
                anew.close(); anew.remove();
                return equal;
            }""",
            {f"rows_{name}": rows[name] for name in chosen},
        )
        assert same, chosen


def test_shown_twice_closed_and_shown_again(page, chart):
    page.evaluate("async () => { window.second = await show(model); }")
    chart.put(me=me(7))
    page.wait_for_timeout(300)
    assert "Clear Line 7" in said(page)
    assert "Clear Line 7" in said(page, "second")
    page.evaluate("place.close()")
    assert said(page) == ""
    chart.comm.send = lambda data=None, **_: page.evaluate("change => redrawn(second, change)", data["state"])
    chart.put(me=me(9))
    assert "Clear Line 9" in said(page, "second")
    page.evaluate("async () => { second.close(); window.third = await show(model); }")
    assert "Clear Line 9" in said(page, "third")
    page.evaluate("third.close()")
    assert page.evaluate("model.listeners()") == 0


def test_closed_before_it_was_drawn(page, chart):
    left = page.evaluate(
        """async () => {
            const place = document.body.appendChild(document.createElement("div"));
            widget.render({model, el: place})();
            await new Promise(go => setTimeout(go, 800));
            return place.innerHTML;
        }"""
    )
    assert left == ""


def test_a_narrow_page_shrinks_the_chart(page, chart):
    page.evaluate("async () => { window.slim = await show(model, 560); }")
    width = "slim.querySelector('svg').getBoundingClientRect().width"
    assert page.evaluate(width) <= 560
    page.evaluate("slim.style.width = '1000px'")
    assert page.evaluate(width) > 700
    # On a phone the panels stand under each other, whole and not shrunk.
    page.evaluate("async () => { slim.close(); window.phone = await show(model, 340); }")
    assert page.evaluate("phone.firstChild.scrollWidth - phone.firstChild.clientWidth") == 0
    boxes = page.evaluate(
        "[...phone.querySelectorAll('svg path.background')].map(e => e.getBoundingClientRect().toJSON())"
    )
    panels = [box for box in boxes if box["height"] > 120 and box["width"] > 240]
    assert len(panels) >= 2
    assert panels[-1]["top"] > panels[0]["top"] + 150


@pytest.mark.parametrize(
    "spec",
    [
        {"mark": "nonsense", "data": {"values": []}, "encoding": {}},
        {"hconcat": 3},
        {"mark": "point", "data": {"values": [{"a": 1}]}, "transform": [{"calculate": "oops(", "as": "b"}]},
    ],
)
def test_a_chart_that_cannot_be_drawn_says_so(page, spec):
    chart = live.LiveChart(spec)
    host(page, chart)
    page.evaluate("async () => { window.place = await show(model); }")
    sentence = said(page)
    assert re.fullmatch(r"This chart cannot be drawn: its specification has a mistake \([^\n]+\)\.", sentence), sentence
    assert page.locator("[role=alert]").count() == 1


def test_hover_names_a_classic(page, chart):
    page.locator("path[aria-label^='sour 5,']").first.hover(force=True)
    tip = page.locator("#vg-tooltip-element.visible")
    tip.wait_for(timeout=3000)
    assert "sour 5" in tip.inner_text()
    assert re.search(r"\d+\.\d % vol", tip.inner_text())


@pytest.mark.usefixtures("no_engine_yet")
def test_page_of_its_own_works_without_a_network(page, picture):
    first = pictures.interactive_html(picture, **moved(3))
    second = pictures.interactive_html(place_charts.place_chart(CLASSICS, "punch"), engine=False)
    assert page.evaluate("window.drinklabVega === undefined")
    page.context.set_offline(True)
    faults = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.set_content(f"<!doctype html><html lang='en'><title>t</title><body>{first}{second}</body></html>")
    page.wait_for_selector(".drinklab-chart.vega-embed svg >> nth=1")
    page.locator("path[aria-label^='punch 2,']").first.hover(force=True)
    tip = page.locator("#vg-tooltip-element.visible")
    tip.wait_for(timeout=3000)
    assert "punch 2" in tip.inner_text()
    assert "Clear Line 3" in page.inner_text("body")
    assert faults == []


def test_one_engine_for_all_charts():
    first, second = (live.LiveChart({"mark": "point", "data": {"values": []}}) for _ in range(2))
    assert first.engine is second.engine
    ipywidgets.Widget.close_all()
    third = live.LiveChart({"mark": "point", "data": {"values": []}})
    assert third.engine is not first.engine
    assert third.engine.comm is not None


DRAWN_FROM = """async ([code, engine]) => {
  window.drinklabVega = window.drinklabVegaLoading = undefined;
  window.drinklabEngine = engine ?? URL.createObjectURL(new Blob([code], {type: "text/javascript"}));
  const manager = model.widget_manager, known = manager.get_model;
  let asked = 0;
  manager.get_model = name => { asked += 1; return known(name); };
  const place = await show(model);
  manager.get_model = known;
  return [asked, place.querySelector("[data-drawn] svg") !== null];
}"""


@pytest.mark.usefixtures("no_engine_yet")
def test_where_a_server_gives_the_engine_no_kernel_is_asked_for_it(page, chart):
    code = engine.vega_bundle()
    assert page.evaluate(DRAWN_FROM, [code, None]) == [0, True]
    assert page.evaluate(DRAWN_FROM, [code, "data:text/javascript,throw 1"]) == [1, True], "one that does not come"


PHONE = 340  # what a page of 390 pixels has for a chart


@pytest.mark.usefixtures("no_engine_yet")
@pytest.mark.parametrize("make", [effects_chart, lambda: gel_chart(Display("oz", "°F")), target_chart])
def test_panels_beside_each_other_have_a_drawing_of_their_own_for_a_phone(page, make):
    """It fits without a scroll bar, its letters nearly as large as on a wide page."""
    host(page, live.LiveChart(make()))
    seen = """async width => {
      const place = await show(model, width), svg = place.querySelector("svg"), chart = place.querySelector(".drinklab-chart");
      return [svg.getBoundingClientRect().width / svg.viewBox.baseVal.width, chart.scrollWidth - chart.clientWidth,
              svg.viewBox.baseVal.width];
    }"""
    scale, beyond, _ = page.evaluate(seen, PHONE)
    assert scale >= 0.85
    assert beyond <= 0
    assert page.evaluate(seen, 900)[2] > 600
