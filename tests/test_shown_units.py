"""No sentence on a page holds a unit that was not chosen: each panel with the demo's drinks, in both ways of measuring.

Beside the first drink three others, other ones each day; all of them in a long run.
"""

import re
from dataclasses import replace
from html import unescape

import pytest
from all_panels import NO_DRINK, PANELS, htmls
from long_run import dozen, some

from drinklab import demo, filtering, gels, logbook, pantry
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.parts import html

WAYS = {"metric": ("mL", "°C", "kPa"), "US": ("oz", "°F", "psi")}
# A number with a unit of the other way: "4 °C", "13.5 oz", "57 bar".
_OTHER = {
    "metric": re.compile(r"\d[\d.,]* ?(?:°F|oz\b|psi\b|bar\b)"),
    "US": re.compile(r"\d[\d.,]* ?(?:°C|mL\b|kPa\b|bar\b)"),
}
# Concentrations, and what a source has printed. The bar measures of a target stand in a table beside the amounts.
_CONCENTRATION = re.compile(r"g in 100 mL|In each 100 mL|mL to a mL")
_PRINTED = [part for agent in gels.agents().values() for part in gels.sources(agent)]
_PRINTED += [way.source for way in filtering.ways()]
_PRINTED += list(balance_panel.MEASURES)  # names of what one pours with


def _sentences(page: str, name: str) -> str:
    if name == "target":
        page = re.sub(r"<table.*?</table>", "", page)
    page = re.sub(r'<details class="dl-words">.*?</details>', "", page)  # a word of the glossary may be a unit
    text = unescape(re.sub(r"<[^>]+>", " ", page))
    for printed in _PRINTED:
        text = text.replace(printed, "")
    return _CONCENTRATION.sub("", text)


def _opened(name, folder, drink, way):
    volume, temperature, pressure = WAYS[way]
    logbook.save_choices(folder, volume=volume, temperature=temperature)
    logbook.put_in_hand(folder, drink, pantry.load())
    panel = PANELS[name](folder)
    for part, value in (("volume_unit", volume), ("temperature_unit", temperature), ("pressure_unit", pressure)):
        for owner in (panel, *getattr(panel, "children", ())):
            if hasattr(owner, part):
                getattr(owner, part).value = value
    return panel


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", some(list(PANELS), 6))
def test_every_sentence_is_in_the_units_chosen(name, way, tmp_path):
    found = set()
    first, *others = demo.settings(pantry.load()).values()
    others = dozen(others, 3)
    panel = _opened(name, tmp_path, first, way)
    for drink in (first, *others):
        if drink is not first and name not in NO_DRINK:
            panel.use(replace(drink, display=panel.display))
        for part in htmls(panel):
            text = _sentences(part.value, name) if part.value != html.STYLE else ""
            for match in _OTHER[way].finditer(text):
                found.add(text[max(0, match.start() - 60) : match.end() + 25])
    assert not found, "\n".join(sorted(found))


@pytest.mark.parametrize("way", WAYS)
def test_what_is_refused_is_in_them_too(way, tmp_path):
    line, keg = (demo.settings(pantry.load())[name] for name in ("Clear Line", "Long Platform"))
    bench = _opened("bench", tmp_path, line, way)
    bench.serve_all.value = False
    bench.glass.number.value = 1e5
    bubbles = PANELS["bubbles"](tmp_path)
    bubbles.pressure_unit.value = WAYS[way][2]
    bubbles.use(keg)
    refused = [bench.problem.value]
    for part, value in ((bubbles.temperature, -5), (bubbles.amount, 1e4)):
        was, part.number.value = part.value, value
        refused.append(bubbles.problem.value)
        part.number.value = was
    bubbles.limit.value = "2000 kPa"
    refused.append(bubbles.problem.value)
    for page in refused:
        assert re.search(rf"\d ?({'|'.join(WAYS[way])})", page)
        assert not _OTHER[way].search(_sentences(page, "")), page
