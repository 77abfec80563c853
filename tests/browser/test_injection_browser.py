"""What a stranger put into files stays text in a real browser: no script, no request, no element that is not ours."""

from __future__ import annotations

import re

import hostile
import nbformat
import pytest
from long_run import some
from nbformat import v4

from drinklab.workbook import server

# Module of a panel -> the panels in it: each is opened on a folder of a stranger that can be read, and on a damaged one.
GROUPS = {
    "bench": ["panel"],
    "dilution": ["panel"],
    "carbonation": ["panel"],
    "gels": ["panel"],
    "milk": ["panel"],
    "filtering": ["panel"],
    "schedule": ["panel"],
    "prep": ["panel"],
    "reach": ["panel"],
    "balance": ["panel", "sweep", "versus"],
}

# In the kernel of one notebook: the panels of a chosen module come onto one stage, on the folder of a stranger, twice.
# Each saved drink, log and bottle of the stranger is chosen, the last one stays.
STAGE = """
import importlib, traceback
import ipywidgets as w

def all_of(part):
    if isinstance(part, w.Accordion):
        part.selected_index = 0
    yield part
    for inner in getattr(part, "children", ()):
        yield from all_of(inner)

def walk(panel):
    for part in all_of(panel):
        if isinstance(part, w.Dropdown):
            for value in [v for label, v in part._options_full if "hit(" in label or "saved" in str(v)]:
                part.value = value
        elif isinstance(part, (w.Text, w.Textarea)) and not part.disabled:
            was, part.value = part.value, TEXT
            part.value = was

def show(change):
    try:
        module, made = importlib.import_module(f"drinklab.workbook.panels.{change.new}"), []
        for name in GROUPS[change.new]:
            made += [getattr(module, name)(f"strangers/{folder}") for folder in ("damaged", "own")]
            stage.children = made
            walk(made[-1])
        if change.new == "bench":
            from drinklab import writeup
            page, _ = module.write_up(made[-1].trial, "strangers/own", title="page")
            made[-1].use(writeup.rerun(page).setting)
        said.value = f"{change.new}: walked to the end"
    except Exception:
        said.value = f"{change.new}: " + traceback.format_exc()[-600:]

stage, said = w.VBox(), w.Label()
which = w.Dropdown(options=["", *GROUPS], description="Module")
which.observe(show, "value")
w.VBox([which, said, stage])
"""

STRANGE = r"""() => {
  const found = [];
  for (const part of document.querySelectorAll(".dl-bench *, #vg-tooltip-element, #vg-tooltip-element *")) {
    if (part.matches(".vega-bind, form.vega-bindings:empty")) continue;  // the drawing engine's own
    if (part.outerHTML.startsWith('<details class="dl-care"><summary><b>Cautions')) continue;  // what folds them
    if (part.outerHTML.startsWith('<details class="dl-words"><summary>Words on this page (')) continue;
    if (/^<svg [^>]*class="dl-mark"[^>]*>(<(path|rect)( (x|y|width|height|d|class)="[\w .-]*")*><\/\2>)+<\/svg>$/
          .test(part.outerHTML)) continue;  // a bar in a table
    if (/^<svg viewBox="[\d ]+" preserveAspectRatio="none" class="dl-strip" role="img" aria-label="Shares of the weight: [a-z\d ,%]+\.">(<rect( (x|y|width|height|class)="[\w .-]*")*><\/rect>)+<\/svg>$/
          .test(part.outerHTML)) continue;  // the strip of shares
    if (part.matches('a[target="_blank"][rel="noopener"][href^="/files/"]') && part.attributes.length === 3) continue;
    const drawn = part.closest(".drinklab-chart svg");
    if (/^(img|script|iframe|frame|object|embed|link|meta|base|form|video|audio|details|math|xss|a|mjx-container)$/i
          .test(part.localName) || (part.localName === "svg" && !drawn)) found.push(part.outerHTML.slice(0, 200));
    for (const mark of part.attributes)
      if (/^on|^(src|srcdoc|href|xlink:href|action|formaction|data)$/i.test(mark.name))
        found.push(`${mark.name}=${mark.value}`.slice(0, 200));
  }
  return found;
}"""

# A pointer over every mark of every chart: what its tooltip says is text as well.
HOVER = """async () => {
  let told = 0;
  for (const mark of document.querySelectorAll(".drinklab-chart svg path, .drinklab-chart svg text")) {
    const box = mark.getBoundingClientRect();
    const at = {bubbles: true, clientX: box.x + box.width / 2, clientY: box.y + box.height / 2};
    for (const kind of ["pointerover", "mouseover", "pointermove", "mousemove"])
      mark.dispatchEvent(new PointerEvent(kind, at));
    const tip = document.querySelector("#vg-tooltip-element");
    told += Boolean(tip && tip.textContent.includes("hit("));
    if (tip && tip.querySelector("img, script, svg, a, iframe")) return tip.innerHTML;
    if (told % 40 === 39) await new Promise(go => setTimeout(go));
  }
  return told;
}"""


@pytest.fixture(scope="module")
def strangers(lab):
    hostile.folder(lab.folder / "strangers" / "own")
    hostile.damaged_folder(lab.folder / "strangers" / "damaged")
    return lab


@pytest.fixture(scope="module")
def stage(lasting_page, strangers):
    """The page with an empty stage, what was asked for on it, and what each attempt calls."""
    page, asked = lasting_page, []
    cell = v4.new_code_cell(f"GROUPS = {GROUPS!r}\nTEXT = {hostile.ALL!r}\n{STAGE}")
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = v4.new_notebook(cells=[cell], metadata={"drinklab": {"run_on_open": True}, "kernelspec": kernel})
    file = strangers.folder / "stranger.ipynb"
    nbformat.write(notebook, file)
    server.sign(file)  # what is in question is what the files of the folder can do, not the notebook

    page.on("request", lambda request: asked.append(request.url))
    page.add_init_script("window.hits = []; window.hit = n => { (window.top ?? window).hits.push(n); };")
    page.set_viewport_size({"width": 1280, "height": 9000})
    page.goto(strangers.address(file.name))
    page.get_by_label("Module").wait_for(timeout=120_000)
    page.wait_for_selector(".drinklab-note", state="detached")
    return page, asked


@pytest.mark.parametrize("module", some(list(GROUPS), 2))
def test_nothing_of_a_stranger_runs(stage, module):
    page, asked = stage
    page.evaluate("window.hits = []")
    asked.clear()
    page.get_by_label("Module").select_option(module)
    said = page.locator(".widget-label", has_text=re.compile(f"^{module}: "))
    said.wait_for(timeout=180_000)
    assert said.inner_text() == f"{module}: walked to the end"
    count = 2 * len(GROUPS[module])
    page.wait_for_function(f"document.querySelectorAll('.dl-bench:not(.dl-bench .dl-bench)').length === {count}")
    page.wait_for_function("!document.querySelector('.drinklab-chart:not([data-drawn])')", timeout=60_000)
    page.wait_for_timeout(1000)
    assert "hit(" in page.inner_text(".jp-Notebook"), "nothing of it reached the page"
    assert page.evaluate(STRANGE) == []
    told = page.evaluate(HOVER)
    assert isinstance(told, int), told
    assert page.evaluate(STRANGE) == []
    page.wait_for_timeout(500)
    assert page.evaluate("window.hits") == []
    assert [url for url in asked if "/seen" in url or url.rstrip("/").endswith("/x")] == []

    # The traps themselves work: the first of them, put into the page as HTML, is seen in all three ways.
    page.evaluate("""() => { document.querySelector(".dl-bench p").innerHTML = "<img src=x onerror=hit(0)>"; }""")
    page.wait_for_function("window.hits.length > 0")
    assert page.evaluate(STRANGE) != []
    assert any(url.endswith("/x") for url in asked)
