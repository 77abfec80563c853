"""What a stranger put into files stays text in a real browser: no script, no request, no element that is not ours."""

from __future__ import annotations

import hostile
import nbformat
import pytest
from nbformat import v4

from drinklab.workbook import server

# Module of a panel -> the panels in it: each is opened on the folder of a stranger, twice.
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

# In the kernel: each saved drink, log and bottle of the stranger is chosen, the last one stays.
WALK = """
def walk(panel):
    for part in all_of(panel):
        if isinstance(part, w.Dropdown):
            for value in [v for label, v in part._options_full if "hit(" in label or "saved" in str(v)]:
                part.value = value
        elif isinstance(part, (w.Text, w.Textarea)) and not part.disabled:
            was, part.value = part.value, TEXT
            part.value = was

def all_of(part):
    yield part
    for inner in getattr(part, "children", ()):
        yield from all_of(inner)
"""

# Whether all cells have run; at once, and with what it said, if one of them raised.
ENDED = """() => {
  const cells = [...document.querySelectorAll(".jp-Notebook .jp-CodeCell")];
  for (const [at, cell] of cells.entries()) {
    const raised = [...cell.querySelectorAll(".jp-OutputArea-output")].find(o => o.innerText.includes("Traceback"));
    if (raised) return `cell ${at} raised: ${raised.innerText.slice(-600)}`;
  }
  return cells.at(-1)?.innerText.includes("walked to the end") ? "walked to the end" : null;
}"""

STRANGE = """() => {
  const found = [];
  for (const part of document.querySelectorAll(".dl-bench *, #vg-tooltip-element, #vg-tooltip-element *")) {
    if (part.matches(".vega-bind, form.vega-bindings:empty")) continue;  // the drawing engine's own
    if (part.outerHTML.startsWith('<details class="dl-care"><summary><b>Cautions')) continue;  // what folds them
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


@pytest.mark.parametrize("module", GROUPS)
def test_nothing_of_a_stranger_runs(page, strangers, module):
    cells = [f"import ipywidgets as w\nfrom drinklab.workbook.panels import {module}\nTEXT = {hostile.ALL!r}\n{WALK}"]
    for name in GROUPS[module]:
        cells.append(f"bad = {module}.{name}('strangers/damaged')\nbad")
        cells.append(f"panel = {module}.{name}('strangers/own')\npanel")
        cells.append("walk(panel)")
    if module == "bench":
        cells.append(
            "from drinklab import writeup\npage, _ = bench.write_up(panel.trial, 'strangers/own', title='page')\n"
            "panel.use(writeup.rerun(page).setting)"
        )
    cells.append("print('walked', 'to the end')")
    notebook = v4.new_notebook(
        cells=[v4.new_code_cell(code) for code in cells],
        metadata={
            "drinklab": {"run_on_open": True},
            "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
        },
    )
    file = strangers.folder / f"stranger_{module}.ipynb"
    nbformat.write(notebook, file)
    server.sign(file)  # what is in question is what the files of the folder can do, not the notebook

    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.add_init_script("window.hits = []; window.hit = n => { (window.top ?? window).hits.push(n); };")
    page.set_viewport_size({"width": 1280, "height": 9000})
    page.goto(strangers.address(file.name))
    ended = page.wait_for_function(ENDED, timeout=180_000).json_value()
    assert ended == "walked to the end", ended
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
