"""A write-up for others: its first page, its data for other programs, what stands beside it, and what it is made of."""

import csv
import io
import json
import re
import zipfile
from base64 import b64decode
from dataclasses import replace
from pathlib import Path

import html5lib
import numpy as np
import pypdf
import pytest

from drinklab import demo, making, writeup
from drinklab.carbonation import Carbonate
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.steps import Rest
from drinklab.trial import run
from drinklab.workbook.parts.published import Published
from drinklab.writeup.pdf import browser

SHELF = load()
DRINKS = demo.settings(SHELF)
# Types and properties of schema.org that we use, and what each may be, read out of schema-dts 2.1.0 (Apache-2.0), the
# TypeScript types that are made from schema.org's own vocabulary file; inherited properties count.
VOCABULARY = {
    (row["type"], row["property"]): set(row["may_be"].split())
    for row in csv.DictReader((Path(__file__).parent / "schema_org_names.csv").open(encoding="utf-8"))
}
PLAIN = {"Text", "URL", "Date", "Duration", "Energy", "Mass", "Number", "Integer", "Boolean"}
ABOVE = {"HowToStep": {"CreativeWork", "ListItem", "Thing"}, "HowToSection": {"CreativeWork", "ListItem", "Thing"},
         "HowToDirection": {"ListItem", "Thing"}, "HowToTip": {"ListItem", "Thing"}, "Product": {"Thing"}}  # fmt: skip


@pytest.fixture(scope="module")
def line():
    return run(DRINKS["Clear Line"], pantry=SHELF, draws=200)


def linked(page):
    (found,) = re.findall(r'<script type="application/ld\+json">(.*?)</script>', page, re.DOTALL)
    return json.loads(found)


def unfolded(page):
    """What stands on the page before anything is opened."""
    page = re.sub(r"<(script|style|details|svg)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(re.sub("<[^>]+>", " ", page).replace("\u00a0", " ").split())


# --- page one ----------------------------------------------------------------------------------------------------


def test_page_one_makes_the_drink_in_order(line):
    text = unfolded(writeup.html(line, author="The Halt", finding="Tea stays.", cost=["2 a glass."]))
    order = [
        "The Halt", "does it still taste of tea", "Tea stays.", "What goes in", "Makes 20 serves", "and the filter", "To hand:",
        "gives milk", "With it:", "gives sulphites", "Method", "Check and serve", "Ice: ", "Contains: milk, sulphites",
        "What happens to it", "Nearest of the 105 classics is", "Cost", "Limits", "References", "Bubnik",
    ]  # fmt: skip
    found = [text.index(words) for words in order]
    assert found == sorted(found)
    for words in ("SR28", "second hand)", "P461000"):  # words of origin are numbers here
        assert words not in text


@pytest.mark.parametrize(("name", "before"), [("Slow Signal", 1148), ("Clear Line", 2398)])
def test_page_one_is_half_as_long_as_the_page_was(name, before):
    """The page of 26 November 2026 had so many words, pictures and folded parts not counted; it had no folded part."""
    page = writeup.html(run(DRINKS[name], pantry=SHELF))
    page = re.sub(r'<span class="ref">.*?</span>', lambda m: " " + re.sub("<[^>]+>", "", m[0]), page)
    assert len(unfolded(page).split()) <= before / 2 + 3  # "," and what stood inside a tag


def test_each_caution_stands_once_at_its_step(line):
    items = {item["do"]: item["cautions"] for part in facts(line) for item in part["method"]}
    where = {words: next(do for do, said in items.items() if any(words in text for text in said))
             for words in ("Caffeine", "Dairy:", "spoil: rest it", "Fire:", "Choking", "Gelatin is made of")}  # fmt: skip
    assert "Mix gin" in where["Caffeine"]
    assert "skimmed" in where["Dairy:"]
    assert where["spoil: rest it"].startswith("Rest it covered")
    assert where["Fire:"].startswith("Warm it")
    assert where["Choking"].startswith("Cut 20 pieces")
    assert "gelatin" in where["Gelatin is made of"]
    page = unfolded(writeup.html(line))
    for caution in line.cautions:
        assert page.count(caution.text.replace("'", "&#39;")) == 1, caution.code


@pytest.mark.parametrize("name", DRINKS)
def test_no_caution_is_lost(name):
    trial = run(DRINKS[name], pantry=SHELF, draws=0)
    told = {text for part in facts(trial) for item in part["method"] for text in item["cautions"]}
    assert {caution.text for caution in trial.cautions} <= told
    assert sorted(i for item in making.method(trial, Display()) for i in item.uses) == list(
        range(len(making.ingredients(trial)))
    )


def facts(trial):
    told = writeup.facts.facts_of(trial, writeup.About())
    return told, *told["beside"]


def test_pressure_is_warned_of_where_it_is_gassed():
    gassed = run(
        Recipe.parse("60 mL gin\n100 mL water", technique="none"), steps=[Rest(1), Carbonate(volumes=2.5)], draws=0
    )
    (item,) = [i for i in making.method(gassed, Display()) if any(c.code == "gas pressure" for c in i.cautions)]
    assert item.do.startswith("Gas it")


def test_what_is_missing_leaves_its_heading_out():
    page = unfolded(writeup.html(run(Recipe.parse("60 mL gin\n30 mL water", technique="none"), draws=0)))
    for heading in ("Tasted blind", "Notes", "Cost", "What if", "With it"):
        assert heading not in page
    assert 'class="question"' not in writeup.html(run(Recipe.parse("60 mL gin", technique="none"), draws=0))


def test_the_chosen_units_on_the_whole_page(line):
    page = unfolded(writeup.html(line, display=Display("oz", "°F")))
    assert not re.search(r"\d mL\b|\d °C", page)


# --- the markup --------------------------------------------------------------------------------------------------

LONG = {
    "eighty letters": "Passionfruit-and-chamomile-verjus-with-" + "x" * 41,
    "right to left": "مشروب الليمون والنعناع مع شاي أخضر",
    "CJK": "柚子と緑茶の澄んだ飲み物、二番目の試作",
}


def long_trial(name):
    """12 pours, 9 stages and more: each thing of the longest kind."""
    pours = ["gin", "lemon juice", "lime juice", "sugar syrup", "honey syrup", "pineapple juice", "apple juice", "verjus",
             "orange bitters", "elderflower cordial", "chamomile cordial", "cold green tea"]  # fmt: skip
    text = "\n".join(f"{20 + i} mL {what}" for i, what in enumerate(pours))
    steps = [replace(Rest(1, 4), name=f"{name} {n}"[:80]) for n in range(1, 8)]
    drink = Recipe.parse(text, SHELF, name=name, technique="none", question=name, method=f"Mix {name}.\nServe it.")
    return run(drink, pantry=SHELF, steps=steps, draws=20)


@pytest.mark.parametrize("name", LONG.values(), ids=LONG)
def test_pages_are_html_without_errors(name):
    """html5lib, the reference parser of the HTML standard, in its strict mode raises at the first error."""
    trial = long_trial(name)
    page = writeup.html(trial, author=name, finding=name, licence=name, notes="\n".join([name] * 200), baseline=trial,
                        tasted=[name], cost=[name], what_if=[name], whole=True)  # fmt: skip
    html5lib.HTMLParser(strict=True).parse(page)
    assert page.count(name) > 205
    assert "{{" not in unfolded(page)


def test_a_page_of_the_demo_is_html_without_errors_and_small(line):
    page = writeup.html(line, author="The Halt")
    html5lib.HTMLParser(strict=True).parse(page)
    # The chart's engine is 0.9 MB and its picture 0.1 MB, twice at most: `test_writeup_browser` weighs the whole.
    assert len(page.encode()) < 300_000


# --- for other programs ------------------------------------------------------------------------------------------


def walked(node):
    if isinstance(node, list):
        for one in node:
            yield from walked(one)
    elif isinstance(node, dict):
        yield node
        for key, value in node.items():
            if key not in ("@context", "drinklab"):
                yield from walked(value)


@pytest.mark.parametrize("name", DRINKS)
def test_schema_org_knows_every_name(name):
    data = linked(writeup.html(run(DRINKS[name], pantry=SHELF, draws=20), author="The Halt", licence="CC BY 4.0"))
    for node in walked(data):
        for key, value in node.items():
            if key[0] == "@" or key == "drinklab":
                continue
            allowed = VOCABULARY[node["@type"], key]
            for one in value if isinstance(value, list) else [value]:
                kinds = {one["@type"], *ABOVE.get(one["@type"], ())} if isinstance(one, dict) else PLAIN
                assert kinds & allowed, (node["@type"], key)
    assert data["@context"][1]["drinklab"]["@type"] == "@json"  # JSON-LD 1.1, JSON literals


def test_linked_data_is_right(line):
    data = linked(writeup.html(line, author="The Halt", licence="https://creativecommons.example/by"))
    steps = data["recipeInstructions"]
    supplies = [s for node in walked(steps[:-1]) for s in node.get("supply", ())]
    assert [s["name"] for s in supplies] == [row.name for row in making.ingredients(line)]
    milk = next(s for s in supplies if "milk" in s["name"])
    told = next(row for row in making.ingredients(line) if "milk" in row.name)
    assert milk["requiredQuantity"] == {
        "@type": "QuantitativeValue", "value": pytest.approx(told.ml, rel=1e-3), "unitText": "mL",
    }  # fmt: skip
    assert steps[-1]["@type"] == "HowToSection"
    assert (data["author"]["name"], data["license"]) == ("The Halt", "https://creativecommons.example/by")
    assert "totalTime" not in data  # a filter's pace is not known
    assert {"milk-washed", "gin"} <= set(data["keywords"].split(", "))
    figures = {p["name"]: p for p in data["about"]["additionalProperty"]}
    assert figures["Strength"]["value"] == pytest.approx(line.served.profile.abv, rel=1e-4)
    assert figures["Strength"]["minValue"] < figures["Strength"]["value"] < figures["Strength"]["maxValue"]
    plain = linked(writeup.html(run(DRINKS["Slow Signal"], pantry=SHELF, draws=0)))
    assert plain["totalTime"] == "PT5M"
    assert not {"author", "license"} & set(plain)


def test_stages_and_draws_as_a_data_package(line):
    page = writeup.html(line, author="The Halt")
    (link,) = re.findall(r'href="data:application/zip;base64,([^"]+)"', page)
    held = zipfile.ZipFile(io.BytesIO(b64decode(link)))
    described = json.loads(held.read("datapackage.json"))
    assert described["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    tables = {}
    for resource in described["resources"]:
        rows = list(csv.DictReader(io.StringIO(held.read(resource["path"]).decode())))
        assert list(rows[0]) == [field["name"] for field in resource["schema"]["fields"]]
        tables[resource["name"]] = rows
    assert [row["stage"] for row in tables["stages"]] == [stage.name for stage in line.stages]
    assert float(tables["stages"][-1]["abv_high"]) == pytest.approx(line.served.high.abv, rel=1e-5)
    drawn = np.array([float(row["abv"]) for row in tables["draws"]])
    assert drawn.size == 200
    assert line.served.low.abv <= np.median(drawn) <= line.served.high.abv
    assert np.quantile(drawn, 0.975) == pytest.approx(line.served.high.abv, abs=0.1)
    assert "cff-version: " in held.read("CITATION.cff").decode()


def test_a_citation_holds_whatever_was_typed():
    told = {"title": "50 % {salt} & \\lime_#1", "author": "A~B", "date": "2027-07-03"}
    entry = writeup.data.bibtex(told, "x_version_01")
    assert r"50 \% \{salt\} \& \textbackslash{}lime\_\#1" in entry
    assert entry.count("{") == entry.count("}")
    assert json.loads(writeup.data.cff(told).splitlines()[3].partition(": ")[2]) == told["title"]


# --- beside the page ---------------------------------------------------------------------------------------------


def test_a_notebook_runs_the_write_up_again(tmp_path, monkeypatch):
    odd = run(Recipe.parse("60 mL gin\n30 mL water", name='it\'s "odd" [x](y) <b>', technique="none"), draws=20)
    page, _ = writeup.save(odd, tmp_path)
    paths = [writeup.notebook(page), writeup.notebook(page)]
    assert [p.name for p in paths] == [f"{page.stem}.ipynb", f"{page.stem}_02.ipynb"]
    monkeypatch.chdir(page.parent)
    import nbformat

    notebook = nbformat.read(paths[0], as_version=4)
    nbformat.validate(notebook)
    names = {}
    for cell in notebook.cells:
        if cell.cell_type == "code":
            exec(cell.source, names)
    assert names["drink"].stages == odd.stages


@pytest.mark.skipif(browser() is None, reason="no browser of the Chromium family")
def test_a_pdf_has_the_pages_words_and_its_fonts(tmp_path, line):
    page, _ = writeup.save(line, tmp_path, author="The Halt", notes="مشروب الليمون. 柚子と緑茶")
    printed = pypdf.PdfReader(writeup.pdf(page))
    text = " ".join(" ".join(one.extract_text() for one in printed.pages).split())
    for words in ("Clear Line", "The Halt", "skimmed cow's milk", "Choking", "Limits", "References"):
        assert words in text
    assert "Where each figure comes from" not in text  # folded: printed only on wish
    assert len(printed.pages) <= 4
    for one in printed.pages:
        for font in one["/Resources"].get("/Font", {}).values():
            font = font.get_object()
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            assert font["/Subtype"] == "/Type3" or any(k.startswith("/FontFile") for k in inner["/FontDescriptor"])


def test_without_a_browser_a_pdf_says_how(tmp_path, monkeypatch):
    page, _ = writeup.save(run(Recipe.parse("60 mL gin", technique="none"), draws=0), tmp_path)
    import sys

    monkeypatch.setattr(sys.modules["drinklab.writeup.pdf"], "browser", lambda: None)
    with pytest.raises(InputError, match="without a browser to print it; it must be made where Chromium"):
        writeup.pdf(page)


def test_repeat_says_whether_two_bars_agree():
    """Two known figures: |difference| beside each ± and beside the root of their squares (independent errors)."""
    drink = run(DRINKS["Slow Signal"], pantry=SHELF)
    served = drink.served
    abv, around = served.profile.abv, served.spread("abv")
    (both,) = writeup.repeat(drink, {"abv": (abv + 0.5 * around, 0.6 * around)})
    assert (both.verdict.code, both.pm) == ("within both ±", pytest.approx(around * np.hypot(1, 0.6)))
    (one,) = writeup.repeat(drink, {"abv": (abv + 1.1 * around, 0.6 * around)})
    assert one.verdict.code == "within the ± of the difference"
    (off,) = writeup.repeat(drink, {"abv": (abv + 1.3 * around, 0.6 * around)})
    assert off.verdict.code == "beyond both ±"
    (lone,) = writeup.repeat(drink, {"volume": served.profile.volume})
    assert (lone.verdict.code, lone.pm) == ("within the one ±", None)
    with pytest.raises(InputError, match="temperature is not known in the write-up"):
        writeup.repeat(drink, {"temperature": -3})
    with pytest.raises(InputError, match="strength"):
        writeup.repeat(drink, {"abv": 101})
    with pytest.raises(InputError, match="figure"):
        writeup.repeat(drink, {"colour": 1})


def test_by_mouse_from_the_bench(tmp_path):
    trial = run(DRINKS["Slow Signal"], pantry=SHELF, draws=20)
    box = Published(tmp_path, lambda: Display("oz", "°F"))
    box.made.selected_index = 0
    box.again.selected_index = 0
    box.buttons["Notebook"].click()
    assert "write the drink up first" in box.said.value
    page, _ = writeup.save(trial, tmp_path, **box.about(trial, trial.setting.country))
    box.look(page)
    for name in ("Notebook", "Bar card"):
        box.buttons[name].click()
        assert "Made: " in box.said.value, box.said.value
    assert page.with_suffix(".ipynb").exists()
    assert len(list((tmp_path / "cards").glob("*.spec.html"))) == 1
    value, pm = box.typed["volume"]
    value.value, pm.value = "3 1/2", "0,1"
    box.compare.click()
    assert "3.50 ± 0.10 oz" in box.compared.value
    value.value = "much"
    box.compare.click()
    assert "must be a number" in box.compared.value
