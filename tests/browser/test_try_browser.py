"""The part that a reader tries, in a real browser: its figures beside the package's, and what it does with a hand.

The script works the published formulas out again (OIML R 22, ICUMSA SPS-4, the rules of melt water); what it is held
beside is the package's own way forward, which tests/check_values.csv holds beside the outside world.
"""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from drinklab import classics, demo, pantry, share, trial
from drinklab.dilution import OwnIce
from drinklab.errors import InputError
from drinklab.filtering import Filter
from drinklab.setting import Setting
from drinklab.steps import AddWater
from drinklab.writeup import live

pytestmark = pytest.mark.browser
NASTY = '</script><img src=x onerror="document.title=1"> {{7*7}} \'"& =1+1'
SETTINGS = 300
SHELF = pantry.load()


def drinks() -> dict[str, Setting]:
    """Both whole drinks of the demo, a few classics, and one with each step that the script follows."""
    demos = demo.settings(SHELF)
    known = classics.load()
    found = {name: demos[name] for name in ("Clear Line", "Long Platform", "Slow Signal", "Long Platform, first glass")}
    found |= {name: Setting(known[name]) for name in ("Daiquiri", "Manhattan", "Pina Colada", "Mojito", "Bellini")}
    steps = (AddWater(0.2), AddWater(amount=15), Filter(2))
    found["stepped"] = Setting(known["White Lady"], steps=steps, serves=2, serve_volume=60)
    found["own ice"] = Setting(known["Negroni"], ice=OwnIce(ice=150))
    return found


def tried(rng: np.random.Generator, setting: Setting) -> dict:
    """What a reader might set: amounts, strengths, melt water, serves."""
    pours = setting.recipe.pours
    serves = int(rng.choice([setting.serves, 1, 2, 7, 40]))
    scale = serves / setting.serves
    abv = [p.bottle(SHELF).abv for p in pours]
    return {
        "serves": serves,
        "pours": [
            float(p.amount * scale * rng.choice([0, 0.5, 1, 1.3, 2.2], p=[0.05, 0.2, 0.35, 0.2, 0.2])) for p in pours
        ],
        "abv": [float(a if a == 0 or rng.random() < 0.5 else np.clip(a + rng.normal(0, 12), 0.5, 80)) for a in abv],
        "melt": None if rng.random() < 0.6 else float(rng.uniform(0, 1.2)),
    }


def by_the_package(setting: Setting, wish: dict, followed: int) -> dict | None:
    """The same drink by the package, as far as the script follows it; None where the package refuses it."""
    made = setting.scaled(wish["serves"] / setting.serves)
    poured = []
    for pour, amount, abv in zip(setting.recipe.pours, wish["pours"], wish["abv"], strict=True):
        usual = pour.bottle(SHELF).abv
        poured.append(replace(pour, amount=amount, abv=pour.abv if abv == usual else abv))
    try:
        melt = wish["melt"]
        if melt is None and setting.ice is not None:
            melt = trial.run(setting, pantry=SHELF, draws=0).melt
        whole = followed == len(setting.steps)
        now = trial.run(
            replace(
                made, recipe=replace(made.recipe, pours=tuple(poured)), melt=made.melt if melt is None else melt, ice=None,
                steps=made.steps[:followed], beside=(), draws=0, serves=wish["serves"] if whole else 1,
                serve_volume=made.serve_volume if whole else None,
            ),
            pantry=SHELF,
        )  # fmt: skip
    except InputError:
        return None
    return {name: getattr(now.served.profile, name) for name in ("volume", "abv", "sugar", "acid", "alcohol")} | {
        "melt": now.melt
    }


@pytest.fixture(scope="module")
def opened(browser, tmp_path_factory):
    """One load of a what-if page whose names are hostile, on a phone, with what it asked for and what went wrong."""
    first = demo.settings(SHELF)["First Frost"]
    bottle = replace(SHELF["pisco"], id="nasty", name=NASTY)
    shelf = SHELF.with_items([bottle])
    pours = (replace(first.recipe.pours[0], ingredient="nasty"), *first.recipe.pours[1:])
    drink = trial.run(replace(first, recipe=replace(first.recipe, name=NASTY, pours=pours)), pantry=shelf)
    path = tmp_path_factory.mktemp("class") / "page.html"
    path.write_text(share.try_page(drink), encoding="utf-8")
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    page, asked, wrong = context.new_page(), [], []
    context.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("dialog", lambda dialog: (wrong.append("a dialog"), dialog.dismiss()))
    page.set_default_timeout(20_000)
    page.goto(path.as_uri())
    page.wait_for_selector(".try-on:not([hidden])")
    yield page
    assert wrong == []
    assert {a for a in asked if not a.startswith(("data:", "blob:"))} == {path.as_uri()}
    context.close()


def test_the_script_finds_what_the_package_finds(opened):
    rng = np.random.default_rng(18)
    told = {name: (setting, live.data(setting)) for name, setting in drinks().items()}
    names = list(told)
    wishes = [(name := names[i % len(names)], tried(rng, told[name][0])) for i in range(SETTINGS)]
    found = opened.evaluate(
        """([data, wishes]) => wishes.map(([name, wish]) => {
          try { const of = drinklabSums.solve(data[name], wish); return {...of.figures, melt: of.melt}; }
          catch (refused) { if (refused.code) return null; throw refused; }
        })""",
        [{name: data for name, (_, data) in told.items()}, wishes],
    )  # fmt: skip
    worst = dict.fromkeys(("abv", "volume", "sugar", "acid", "alcohol", "melt"), 0.0)
    answered = 0
    for (name, wish), mine in zip(wishes, found, strict=True):
        setting, data = told[name]
        theirs = by_the_package(setting, wish, len(data["steps"]))
        assert (mine is None) == (theirs is None), (name, wish, mine, theirs)
        if theirs is None:
            continue
        answered += 1
        for figure, of in theirs.items():
            off = abs(mine[figure] - of)
            worst[figure] = max(worst[figure], off if figure == "abv" else off / max(abs(of), 1e-9))
    print("largest deviation:", {name: f"{off:.1e}" for name, off in worst.items()}, "of", answered)
    assert answered > 0.8 * SETTINGS
    assert worst["abv"] <= 0.05
    assert max(worst["volume"], worst["sugar"]) <= 0.002
    assert max(worst.values()) < 1e-9, "the same formulas give the same figures"


def test_the_figures_come_from_the_data_alone(opened):
    data = live.data(Setting(classics.load()["Daiquiri"]))
    wish = {"serves": 1, "pours": [60, 20, 5], "abv": [p["abv"] for p in data["pours"]], "melt": None}
    ways = {
        "density": lambda d: d["density"].__setitem__("ethanol_water", [c * 1.01 for c in d["density"]["ethanol_water"]]),
        "sucrose": lambda d: d["density"].__setitem__("sucrose", [c * 1.1 for c in d["density"]["sucrose"]]),
        "rule": lambda d: d["melt"]["rule"].__setitem__("powers", [0.3, 0, 0]),
        "pours": lambda d: d["pours"][0]["held"].__setitem__("sucrose", 0.1),
    }  # fmt: skip
    solve = "([data, wish]) => drinklabSums.solve(data, wish).figures.volume"
    plain = opened.evaluate(solve, [data, wish])
    for name, change in ways.items():
        other = json.loads(live.as_json(data))
        change(other)
        assert opened.evaluate(solve, [other, wish]) != pytest.approx(plain, rel=1e-6), name


def test_names_are_only_ever_text(opened):
    assert opened.title() == NASTY
    assert NASTY in opened.inner_text(".try-rows")
    assert opened.locator("img").count() == 0


def test_fits_a_phone(opened):
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
    # WCAG 2.2, 2.5.8: 24 CSS px.
    for touched in opened.locator(
        ".try-on :is(input:not([type=checkbox], [type=radio]), label:has(input), button, select)"
    ).all():
        assert touched.bounding_box()["height"] >= 24


def figure(page, word: str, column: int = 1) -> float:
    row = page.locator(".try-figures tbody tr", has_text=re.compile(f"^{word}")).first
    return float(row.locator("td").nth(column - 1).inner_text().split(" ")[0].replace("−", "-"))


def test_a_hand_and_a_keyboard_move_it(opened):
    before = figure(opened, "Strength")
    slider = opened.locator(".try-rows input[type=range]").first
    slider.focus()
    for _ in range(10):
        opened.keyboard.press("ArrowRight")
    assert figure(opened, "Strength") > before
    assert figure(opened, "Strength", 3) > 0
    opened.locator(".try-said", has_text=f"Strength {figure(opened, 'Strength')} % vol").wait_for(state="attached")
    box = opened.locator(".try-rows input[inputmode]").nth(1)
    box.fill("many")
    assert "a number from 0" in opened.inner_text("[data-part=wrong]")
    assert box.get_attribute("aria-invalid") == "true"
    box.fill("1,000")  # one, or a thousand
    assert "a number from 0" in opened.inner_text("[data-part=wrong]")
    box.fill("300")
    assert opened.locator("[data-part=wrong]").inner_text() == ""
    assert "Strong serve" in opened.inner_text(".try-cautions")
    opened.get_by_role("button", name="As written").click()
    assert figure(opened, "Strength") == before
    assert "Strong serve" not in opened.inner_text(".try-cautions")


def test_units_follow_the_choice(opened):
    assert figure(opened, "Volume") == pytest.approx(178, abs=1)
    opened.get_by_label("oz").check()
    assert figure(opened, "Volume") == pytest.approx(178.17 / 29.5735, abs=0.006)  # NIST Handbook 44, appendix C
    opened.get_by_label("°F").check()
    assert "68 °F" in opened.inner_text(".try-about")
    opened.get_by_label("mL").check()
    opened.get_by_label("°C").check()


def test_what_was_measured_is_kept_and_saved_as_a_file(opened):
    def add(what, value, pm, note=""):
        opened.select_option("[data-part=what]", what)
        opened.fill("[data-part=value]", value)
        opened.fill("[data-part=pm]", pm)
        opened.fill("[data-part=note]", note)
        opened.get_by_role("button", name="Add").click()

    add("abv", "13.5", "0.5", NASTY)
    add("abv", "40", "0.5", "=1+1")
    add("volume", "180", "")
    rows = opened.locator("[data-part=measured-rows] tr")
    assert rows.count() == 3
    assert rows.nth(0).locator(".try-agrees").inner_text() == "within both ±"
    assert rows.nth(0).locator(".try-difference").inner_text() == "+0.2"
    assert rows.nth(1).locator(".try-agrees").inner_text() == "further apart than the two ± explain"
    assert NASTY in rows.nth(0).inner_text()
    assert "2 measured, on average" in opened.inner_text("[data-part=several]")
    kept = opened.evaluate(
        "JSON.parse(localStorage.getItem('drinklab ' + JSON.parse(document.querySelector('.try-data').textContent).mark))"
    )
    assert [row["value"] for row in kept] == [13.5, 40, 180]
    with opened.expect_download() as given:
        opened.get_by_role("button", name="Save as a file").click()
    text = given.value.path().read_text("utf-8-sig")
    read = list(csv.DictReader(io.StringIO(text)))
    assert given.value.suggested_filename.endswith("_measured.csv")
    assert [row["yours"] for row in read] == ["13.5", "40", "180"]
    assert read[0]["note"] == NASTY
    assert read[1]["note"] == "'=1+1", "no other program takes it for a formula"
    assert float(read[0]["difference"]) == pytest.approx(13.5 - 13.2736, abs=1e-3)
    assert rows.nth(2).locator(".try-agrees").inner_text() == "within the ± as written; yours has none"
    rows.nth(1).get_by_role("button").click()
    assert rows.count() == 2


def test_a_browser_that_keeps_nothing_is_told_of(opened):
    assert "Kept in this browser" in opened.inner_text("[data-part=kept]")
    opened.evaluate(
        "() => { Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }; }"
    )
    opened.select_option("[data-part=what]", "mass")
    opened.fill("[data-part=value]", "180")
    opened.get_by_role("button", name="Add").click()
    assert "keeps nothing for this page" in opened.inner_text("[data-part=kept]")
    assert opened.locator("[data-part=measured-rows] tr").count() == 3


def test_print_shows_the_setting(opened):
    opened.emulate_media(media="print")
    assert not opened.locator(".try-rows input[type=range]").first.is_visible()
    assert opened.locator(".try-rows input[inputmode]").first.is_visible()
    assert opened.pdf(format="A4").startswith(b"%PDF")
    opened.emulate_media(media="screen")


def test_what_cannot_be_read_is_set_aside_and_not_lost(opened):
    opened.reload()
    assert opened.locator("[data-part=measured-rows] tr").count() == 2, "kept from before"
    key = "'drinklab ' + JSON.parse(document.querySelector('.try-data').textContent).mark"
    opened.evaluate(f"localStorage.setItem({key}, '[{{\"figure\": 1}}]')")
    opened.reload()
    assert opened.locator("[data-part=measured-rows] tr").count() == 0
    assert "not thrown away" in opened.inner_text("[data-part=kept]")
    aside = opened.evaluate(
        "Object.keys(localStorage).filter(name => name.includes('set aside')).map(name => localStorage.getItem(name))"
    )
    assert aside == ['[{"figure": 1}]']
