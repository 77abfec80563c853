"""The part of a page that its reader tries, without a browser: its data, its HTML, and that its script holds no figure.

What the script makes of the data is held beside the package in `browser/test_try_browser.py`.
"""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from drinklab import classics, demo, pantry, share, trial
from drinklab.display import Display
from drinklab.physics import density
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import AddWater
from drinklab.writeup import live

HERE = Path(live.__file__).parent
SHELF = pantry.load()
DEMO = demo.settings(SHELF)
NASTY = "</script><script>alert(1)</script> <img src=x onerror=alert(1)> & \"q\" 'a' {{7*7}}"
SOUR = Setting(Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL honey syrup", technique="shaken"), draws=20)

# What a script is made of, longest first, so that a figure in a text, a note or a pattern is none of its numbers.
_TOKEN = re.compile(
    r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*'|(?<=[(!|&=] )/(?:\\.|[^/\\\n])+/|(?<=[(!|&=])/(?:\\.|[^/\\\n])+/"""
    r"""|(?<![\w$.])\d[\w.]*|(?<![\w$)\]])\.\d[\w.]*""", re.DOTALL,
)  # fmt: skip


def numbers(script: str) -> set[str]:
    """The figures that stand in a script itself."""
    return {found for found in _TOKEN.findall(script) if found[0].isdigit() or found[0] == "."}


def test_the_script_holds_no_figure_that_the_package_did_not_write():
    for name in ("sums.js", "chart.js", "measured.js", "live.js"):
        assert numbers((HERE / name).read_text("utf-8")) <= {"0", "1"}, name
    assert numbers('x = 29.57 + .5; // 7\ny = "3"; z = a1[12]; w = /[2-9]/.test(t)') == {"29.57", ".5", "12"}


def test_scripts_and_styles_are_files_of_their_own():
    script, style = live.script(), live.style()
    assert all((HERE / name).read_text("utf-8") in script for name in ("sums.js", "live.js"))
    assert "</script" not in script.lower()
    assert "</style" not in style.lower()
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacent|document\.write|eval\(|new Function|fetch\(|XMLHttp|https?:", script
    )
    assert not re.search(r"url\(|@import|https?:", style)


@pytest.mark.parametrize("name", DEMO)
def test_it_says_up_to_where_it_answers(name):
    setting = replace(DEMO[name], draws=0)
    told = live.data(setting)
    now = trial.run(setting, pantry=SHELF)
    about = " ".join(told["words"]["about"]["mL °C"])
    followed = len(told["steps"])
    assert told["until"]["served"] == (followed == len(setting.steps))
    later = [step.name for step in setting.steps[followed:]]
    if later:
        assert f'up to "{told["until"]["stage"]}"' in about
        assert ", ".join(later) in about
        assert told["until"]["stage"] == [s.name for s in now.stages][-2 - len(later)]
        assert "".join(map(str, told["words"]["alcohol"])).startswith("At most")
    else:
        assert told["written"]["abv"]["value"] == now.served.profile.abv
        assert "left out" not in json.dumps(told["words"]["alcohol"])
    assert {row["name"]: row["value"] for row in told["own"]["rows"]}["abv"] == now.served.profile.abv


def test_whole_drinks_stop_where_the_sums_do():
    assert live.data(DEMO["Clear Line"])["until"] == {"stage": "mixed", "served": False}
    assert live.data(DEMO["Long Platform"])["until"] == {"stage": "chilled", "served": False}
    assert live.data(replace(SOUR, steps=(AddWater(0.1),)))["until"] == {"stage": "served", "served": True}


def test_a_step_of_ones_own_is_never_followed():
    class Odd(AddWater):
        """Not what it looks like."""

    assert live.data(replace(SOUR, steps=(Odd(0.1),)))["until"]["served"] is False


def test_the_data_hold_the_published_coefficients():
    told = live.data(SOUR)["density"]
    # OIML R 22 at 20 °C is the A of its general formula, first term 998.20123 kg/m3; SPS-4's first is 385.1761.
    assert told["ethanol_water"] == density.A.tolist()
    assert told["ethanol_water"][0] == 998.20123
    assert told["sucrose"] == density.SUCROSE[0].tolist()
    assert told["sucrose"][0] == 385.1761


def test_melt_follows_the_rule_your_ice_or_your_hand():
    assert live.data(SOUR)["melt"]["rule"]["powers"] == (0.203, 1.742, -1.567)  # Liquid Intelligence, 2014; from memory
    assert live.data(replace(SOUR, melt=0.5))["melt"]["set"] == 0.5
    from drinklab.dilution import OwnIce

    iced = live.data(replace(SOUR, ice=OwnIce(ice=150)))
    assert iced["melt"]["rule"] == {"fixed": iced["melt"]["written"], "with_top": False}
    assert "energy balance" in " ".join(iced["words"]["about"]["mL °C"])


def test_sentences_are_in_the_chosen_units():
    about = live.data(DEMO["Long Platform"])["words"]["about"]
    assert set(about) == {"mL °C", "mL °F", "oz °C", "oz °F"}
    assert "3 °C" in " ".join(about["oz °C"])
    assert "37 °F" in " ".join(about["mL °F"])
    assert "°C" not in " ".join(about["mL °F"])
    assert live.data(SOUR, display=Display("oz", "°F"))["units"]["chosen"] == {"volume": "oz", "temperature": "°F"}


def test_no_word_about_a_person():
    words = json.dumps(live.data(SOUR)["words"]).lower()
    assert not re.search(r"blood|may drive|promille|\bbac\b", words)
    assert "nothing about how anybody is affected" in words


def named(text: str) -> trial.Trial:
    bottle = replace(SHELF["gin"], id="odd", name=text)
    recipe = SOUR.recipe
    pours = (replace(recipe.pours[0], ingredient="odd"), *recipe.pours[1:])
    return trial.run(
        replace(SOUR, recipe=replace(recipe, name=text, pours=pours, question=text)), pantry=SHELF.with_items([bottle])
    )


def test_names_never_act():
    page = share.try_page(named(NASTY))
    plain = share.try_page(named("plain"))
    assert len(re.findall(r"<(script|img)\b", page)) == len(re.findall(r"<(script|img)\b", plain)) == 2
    held = re.search(r'<script type="application/json" class="try-data">(.*?)</script>', page, re.DOTALL)[1]
    assert json.loads(held)["drink"]["name"] == NASTY
    assert f'<h1 dir="auto">{html.escape(NASTY, quote=False)[:9]}' in page
    # A line of a script would end at U+2028; `texts` takes it out of a name, and the data would write it as a code.
    assert "\u2028" not in live.as_json({"a": "\u2028\u2029"})
    assert json.loads(live.as_json({"a": "\u2028</script>"})) == {"a": "\u2028</script>"}


def test_a_page_allows_its_own_script_alone():
    page = share.try_page(SOUR)
    allowed = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert "unsafe" not in allowed
    assert allowed.startswith("default-src 'none'; style-src 'sha256-")
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    style = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    assert [live.policy(text) for text in (*style, *script)] == re.findall(r"'sha256-[^']*'", allowed)


def test_without_a_script_it_says_so():
    part = live.section(SOUR)
    assert re.search(r'<div class="try-on" hidden>', part)
    assert "the figures of the drink as written stand on the page" in part


def test_a_page_is_small_and_fetches_nothing():
    page = share.try_page(DEMO["Clear Line"])
    assert len(page.encode()) < 150_000
    assert not re.search(r"\b(?:src|href)=|@import|url\(|\w+://", page)


def test_each_drink_has_a_table_of_its_own():
    marks = {live.data(setting)["mark"] for setting in (*DEMO.values(), SOUR)}
    assert len(marks) == len(DEMO) + 1
    assert (
        live.data(SOUR)["mark"] == live.data(trial.run(SOUR))["mark"] == live.data(SOUR, display=Display("oz"))["mark"]
    )


def test_a_what_if_page_of_any_trial_or_classic(tmp_path):
    from datetime import date

    path = share.save_try_page(classics.load()["Daiquiri"], tmp_path, title="Monday's class", date=date(2026, 11, 27))
    assert path.parent == tmp_path / "pages"
    assert path.name.startswith("2026-11-27_monday-s-class_what-if")
    again = share.save_try_page(classics.load()["Daiquiri"], tmp_path, title="Monday's class", date=date(2026, 11, 27))
    assert again != path
    assert share.read_page(tmp_path, f"pages/{path.name}").kind == "what-if"
