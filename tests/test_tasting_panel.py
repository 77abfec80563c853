"""The panel of tastings without a browser: plan, sheets, key, answers by form and by table, verdict, files."""

import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import pytest
from all_panels import words

from drinklab import demo, logbook, pantry, tasting
from drinklab.display import Display
from drinklab.recipe import Recipe
from drinklab.tasting import ABSENT, SCALES, Found
from drinklab.trial import run
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import logbook as logbook_panel
from drinklab.workbook.panels import tasting as tasting_panel
from drinklab.workbook.parts import tasting_words

SHELF = pantry.load()
NASTY = "<img src=x onerror=alert(1)>"


@pytest.fixture
def panel(tmp_path):
    return tasting_panel.panel(tmp_path)


def _text(value):
    value = unescape(re.sub(r"<[^>]+>", " ", getattr(value, "value", value)))
    return re.sub(r"\s+", " ", value).strip()


def _written(panel):
    return {p.name.split(".", 1)[1]: p for p in (panel.folder / tasting.TASTINGS).iterdir()}


def _answer_all(panel, right):
    """Answer through the form: the first `right` tasters rightly."""
    one = panel.opened
    for i, serving in enumerate(one.servings):
        for choice in tasting.choices(serving, one.method):
            trial_ = tasting.answered(one, {serving.taster: choice})
            if tasting.is_right(trial_, serving.taster) == (i < right):
                panel.form.children[i].children[1].value = choice
                break


# --- the plan -----------------------------------------------------------------------------------------


def test_it_opens_with_the_plan_of_the_example(panel):
    assert panel.problem.value == panel.said.value == ""
    said = _text(panel.words)
    assert "13 right answers of 24 are needed to show a difference at 5 %." in said
    assert "a difference that a third of guests notice would be found 6 times in 10" in said
    assert f"it takes {tasting.size(1 / 3)} tasters" in said
    now = panel.chart.rows["now"][0]
    assert (now["tasters"], now["chance"]) == (24, round(100 * tasting.power(24, 1 / 3), 1))


def test_each_control_is_answered(panel):
    before = _text(panel.words)
    for control, value in (
        (panel.method, "duo-trio"), (panel.method, "tetrad"), (panel.method, "preference"), (panel.method, SCALES),
        (panel.method, "triangle"), (panel.tasters, 12), (panel.alpha, 0.01), (panel.wanted, 0.9), (panel.aim, True),
        (panel.who, "Ada\nBo\nCy\nDee"), (panel.share.number, 60), (panel.sip.number, 25), (panel.limit.number, 2.5),
        (panel.country, "United Kingdom"),
    ):  # fmt: skip
        control.value = value
        assert panel.problem.value == "", control.description
        assert _text(panel.words) != before
        before = _text(panel.words)
    assert "standard drinks (United Kingdom)" in _text(panel.words)


def test_the_alcohol_is_that_of_the_drinks_as_served(panel):
    a, b = panel.samples()
    drink = run(demo.settings(SHELF)["Slow Signal"], pantry=SHELF)
    assert a == tasting.sample(drink)
    found = re.search(r"<small>Alcohol for each</small><b>([\d.]+)", panel.figures.value)[1]
    assert float(found) == pytest.approx(tasting.portion(a, b).grams, abs=0.05)
    panel.sip.number.value = 55
    assert "may go beyond the stop limit" in _text(panel.words)
    panel.write()
    assert "Alcohol for one taster" in _text(panel.said)
    assert not (panel.folder / tasting.TASTINGS).exists()


def test_who_cannot_have_one_is_left_out(panel):
    frost = demo.settings(SHELF)["First Frost"]
    panel.use(frost)
    panel.who.value = "Ada: eggs\nBo\nCy: kiwi\nDee: milk"
    assert [taster.name for taster in panel.plan.seated] == ["Bo", "Dee"]
    said = _text(panel.words)
    assert "Ada is left out: 'eggs', and there is egg" in said
    assert "Cy is left out: 'kiwi' is a word that the workbook cannot look up." in said
    panel.write()
    pages = _written(panel)
    assert "Ada" not in pages["sheets.html"].read_text(encoding="utf-8")
    assert "Ada, Cy" in pages["key.html"].read_text(encoding="utf-8")
    panel.who.value = "Ada: eggs"
    assert "left out, each of them" in _text(panel.problem)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda p: setattr(p.tasters, "value", 0), "tasters is 0"),
        (lambda p: setattr(p.tasters, "value", 10**6), "tasters is 1000000"),
        (lambda p: setattr(p.seed, "value", -1), "seed is -1"),
        (lambda p: setattr(p.who, "value", "Ada\nAda"), "on one line only"),
        (lambda p: setattr(p.other, "value", p.choose.value), "the same drink as A"),
        (lambda p: p.sip.number.set_state({"value": "0"}), "Sip is 0"),
    ],
)
def test_what_cannot_be_is_said_in_place(panel, change, said):
    before = _text(panel.words)
    change(panel)
    assert said in _text(panel.problem).replace("Tasters is", "tasters is").replace("Seed is", "seed is")
    assert _text(panel.words) == before, "the last good plan stays"


def test_the_drink_in_hand_and_a_saved_one(tmp_path):
    drinks = demo.settings(SHELF)
    logbook.save(run(drinks["First Frost"], pantry=SHELF), tmp_path, title="last week")
    logbook.put_in_hand(tmp_path, drinks["Late Stove"], SHELF)
    panel = tasting_panel.panel(tmp_path)
    assert panel.setting == drinks["Late Stove"]
    labels = [label for label, _ in panel.other.options]
    assert any("last week" in label for label in labels)
    assert any(label.startswith("In hand") for label in labels)
    panel.other.value = next(key for label, key in panel.other.options if "last week" in label)
    assert [one.name for one in panel.samples()] == ["Late Stove", "First Frost"]
    assert "B, First Frost" in _text(panel.cautions)


# --- sheets and key ---------------------------------------------------------------------------------------


class _Page(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.tags, self.sheets, self._style = [], [], False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self._style = tag == "style"
        if tag == "section":
            self.sheets.append("")

    def handle_endtag(self, tag):
        self._style = False

    def handle_data(self, data):
        if self.sheets and not self._style:
            self.sheets[-1] += data


def _sheets(panel):
    return _Page(_written(panel)["sheets.html"].read_text(encoding="utf-8")).sheets


def test_a_page_for_each_taster_and_the_key_apart(panel):
    panel.use(demo.settings(SHELF)["First Frost"])
    panel.write()
    assert "In the folder tastings" in _text(panel.said)
    one, pages = panel.opened, _written(panel)
    sheets = _sheets(panel)
    assert len(sheets) == 24
    for serving, sheet in zip(one.servings, sheets, strict=True):
        assert all(
            len(re.findall(rf"\b{code}\b", sheet)) == 2 for code in serving.codes
        )  # on its glass and beside its box
        assert sheet.index("Contains: eggs") < sheet.index("How to taste")
        for name in one.names:
            assert name not in sheet, "a sheet says which drink it is"
        for said in ("Rinse with water", "half a minute of rest", "Spit out each sip", "standard drinks (United States)",
                     "do not taste: hand the sheet back", "Raw egg", one.id):  # fmt: skip
            assert said in sheet
        assert serving.order not in sheet
    key = pages["key.html"].read_text(encoding="utf-8")
    assert all(f"{c} = {d}" in key for s in one.servings for c, d in zip(s.codes, s.order, strict=True))
    assert "360 mL of A" not in key  # 15 mL a glass
    assert "540 mL of A" in key
    for text in (key, pages["sheets.html"].read_text(encoding="utf-8")):
        assert "http" not in text.replace("http-equiv", "")
        assert "<script" not in text
        assert "default-src 'none'" in text


def test_what_concerns_the_maker_stands_with_the_key(panel):
    panel.use(demo.settings(SHELF)["Clear Line"])
    panel.sip.number.value = 10
    panel.write()
    making = panel.opened.making
    assert making
    key = unescape(_written(panel)["key.html"].read_text(encoding="utf-8"))
    sheet = _sheets(panel)[0]
    assert all(text in key and text not in sheet for text in map(panel.say, making))
    assert "Contains:" in sheet
    assert "milk" in sheet.split("How to taste")[0]


def test_never_a_word_of_driving_or_of_blood(panel):
    panel.write()
    for page in _written(panel).values():
        assert not re.search(r"driv|blood|BAC", page.read_text(encoding="utf-8"))


@pytest.mark.parametrize("method", tasting.WAYS)
def test_each_way_has_its_sheet(panel, method):
    panel.method.value = method
    panel.tasters.value = 4
    panel.write()
    one = panel.opened
    assert one.method == method
    sheets = _sheets(panel)
    assert all(tasting_words.question(one) in sheet for sheet in sheets)
    if method == "tetrad":
        first = one.servings[0].codes
        assert f"{first[0]} and {first[1]}; {first[2]} and {first[3]}" in sheets[0]
    if method == SCALES:
        assert "liking" in sheets[0]


def test_nothing_is_overwritten_and_all_files_share_a_number(panel):
    panel.write()
    first = {p.name: p.read_bytes() for p in (panel.folder / tasting.TASTINGS).iterdir()}
    assert len(first) == 4
    assert len({name.split(".")[0] for name in first}) == 1
    panel.write()
    panel.save_button.click()
    assert "Answers is none yet" in _text(panel.said)
    assert {p.name: p.read_bytes() for p in (panel.folder / tasting.TASTINGS).iterdir() if p.name in first} == first


def test_the_same_seed_the_same_glasses(panel):
    first, again = panel.prepared(), panel.prepared()
    assert first.servings == again.servings
    panel.seed.value = 2
    assert panel.prepared().servings != first.servings


def test_a_strangers_words_stay_text(tmp_path):
    named = [Recipe.parse("45 mL gin\n45 mL water", name=f"{NASTY} {i}", technique="none") for i in "ab"]
    panel = tasting_panel.panel(tmp_path, *named)
    panel.who.value = f"{NASTY}:\nBo"
    panel.method.value = "paired"
    panel.asks.value = NASTY
    panel.write()
    for name in ("sheets.html", "key.html"):
        text = _written(panel)[name].read_text(encoding="utf-8")
        assert "<img" not in text
        assert "&lt;img" in text
    assert "<img" not in "".join(child.value for row in panel.form.children for child in row.children if hasattr(child, "value") and child.value)  # fmt: skip


def test_amounts_are_in_the_units_chosen(panel):
    panel.volume_unit.value = "oz"
    panel.write()
    for name in ("sheets.html", "key.html"):
        page = _Page(_written(panel)[name].read_text(encoding="utf-8"))
        assert not any(re.search(r"\d mL", sheet) for sheet in page.sheets)
        assert any(" oz" in sheet for sheet in page.sheets)


# --- answers and verdict ------------------------------------------------------------------------------------


def test_the_verdict_of_the_example(panel):
    panel.write()
    assert "24 answers are to come" in _text(panel.verdict)
    _answer_all(panel, 11)
    said = _text(panel.verdict)
    assert "11 of 24 found the odd one: not shown to differ at 5 %; 13 were needed." in said
    assert "With 24 tasters, a difference that a third of guests notice would be found 6 times in 10." in said
    found = tasting.difference_test(24, 11)
    assert f"{100 * found.low:.0f} % to {100 * found.high:.0f} % of such guests tell them apart" in said
    assert said.index("interval") < said.index("p = 0.140")


def test_answers_are_saved_and_shown_again(panel):
    panel.write()
    _answer_all(panel, 15)
    panel.form.children[23].children[1].value = ABSENT
    said = panel.verdict.value
    assert "15 of 23 found the odd one: a difference is shown at 5 % (12 were needed)." in _text(said)
    assert "1 did not taste and is not counted" in _text(said)
    panel.save()
    assert "Saved as" in _text(panel.said)
    again = tasting_panel.panel(panel.folder)
    assert next(label for label, _ in again.saved.options[1:]).endswith("triangle, 24 (answered)")
    again.saved.value = again.saved.options[1][1]
    assert again.verdict.value == said
    again.saved.value = again.saved.options[2][1]
    assert "24 answers are to come" in _text(again.verdict)


def test_answers_that_are_not_saved_wait_while_another_tasting_is_looked_at(panel):
    panel.write()
    first = panel.saved.value
    _answer_all(panel, 9)
    panel.write()
    assert "24 answers are to come" in _text(panel.verdict)
    panel.saved.value = first
    assert "9 of 24" in _text(panel.verdict)


def test_answers_from_a_table(panel):
    panel.write()
    one, path = panel.opened, _written(panel)["answers.csv"]
    assert panel.table.value == path.name
    panel.read_button.click()
    assert "answer of 'Taster 1' is missing" in _text(panel.said)
    lines = [f"{one.id},{s.taster},{s.codes[0]}" for s in one.servings]
    path.write_text("\n".join(["tasting,taster,answer", *lines]), encoding="utf-8")
    panel.read_button.click()
    right = sum(tasting.is_right(tasting.answered(one, {s.taster: s.codes[0]}), s.taster) for s in one.servings)
    assert f"{right} of 24 found the odd one" in _text(panel.verdict)
    panel.write()  # another tasting
    kept = panel.verdict.value
    panel.table.value = path.name
    panel.read_button.click()
    assert "the row is of another tasting" in _text(panel.said)
    assert panel.verdict.value == kept


def test_scales_by_form(panel):
    panel.method.value = SCALES
    panel.tasters.value = 8
    panel.scales.value = "sweet, liking"
    panel.write()
    one = panel.opened
    for serving, row in zip(one.servings, panel.form.children[1:], strict=True):
        for code, box in zip(serving.codes, row.children[1:], strict=True):
            box.value = "7, 5" if serving.drink(code) == "A" else "4, 5"
    said = _text(panel.verdict)
    assert "“Slow Signal” is rated higher in sweet: shown at 5 %." in said
    assert "+3.0" in said
    panel.form.children[1].children[1].value = "11, 5"
    assert "0 to 10" in _text(panel.said)
    assert _text(panel.verdict) == said


def test_what_was_found_stands_with_the_saved_trials(tmp_path):
    named = demo.settings(SHELF)
    paths = [logbook.save(run(named[name]), tmp_path) for name in ("First Frost", "Slow Signal")]
    panel = tasting_panel.panel(tmp_path)
    panel.choose.value, panel.other.value = (("saved", str(path)) for path in paths)
    panel.tasters.value = 6
    panel.write()
    panel.saved.value = panel.saved.options[1][1]
    answers = {one.taster: tasting.choices(one, panel.opened.method)[0] for one in panel.opened.servings}
    panel.opened = tasting.answered(panel.opened, answers)
    panel.save()
    assert "10_logbook" in _text(panel.said)
    for path in paths:
        (file,) = logbook.entry(path).tastings
        assert tasting.load(tmp_path / tasting.TASTINGS / file).trials == tuple(p.name for p in paths)
    logged = logbook_panel.panel(tmp_path)
    logged.chosen.value = [str(paths[0])]
    assert "of 6 found the odd one" in _text(logged.detail)
    bench = bench_panel.panel(tmp_path)
    bench.choose.value = ("saved", str(paths[0]))
    bench.write_up()
    pages = sorted((tmp_path / "writeups").glob("*.html"))
    assert "Tasted blind" in pages[-1].read_text()
    assert "of 6 found the odd one" in pages[-1].read_text()
    bench.pours.children[0].slider.value += 5
    bench.write_up()  # another drink, of which nothing was found
    assert "Tasted blind" not in sorted((tmp_path / "writeups").glob("*.html"))[-1].read_text()


def test_the_drink_in_hand_is_its_saved_trial_until_it_is_changed(tmp_path):
    first = demo.settings(SHELF)["First Frost"]
    path = logbook.save(run(first), tmp_path)
    for drink, file in ((first, path.name), (replace(first, melt=0.3), "")):
        logbook.put_in_hand(tmp_path, drink, SHELF, came_from=path.name)
        assert tasting_panel.panel(tmp_path).samples()[0].file == file


def test_a_hopeless_tasting_is_said_to_be_one(tmp_path):
    first = demo.settings(SHELF)["First Frost"]
    panel = tasting_panel.panel(tmp_path, first, replace(first, melt=1.02 * run(first).melt))
    assert "not likely to tell them apart" in _text(panel.words)
    panel = tasting_panel.panel(tmp_path, first, replace(first, melt=1.5 * run(first).melt))
    assert "not likely to tell them apart" not in _text(panel.words)
    assert "In strength" in _text(panel.words)
    assert "doi 10.1111/joss.12803" in _text(panel.words)


def test_a_damaged_tasting_is_named_and_the_rest_opens(panel):
    panel.write()
    (panel.folder / tasting.TASTINGS / "hit.json").write_text("{", encoding="utf-8")
    again = tasting_panel.panel(panel.folder)
    assert "hit.json" in _text(again.said)
    assert len(again.saved.options) == 2


# --- words ------------------------------------------------------------------------------------------------


DRY, SWEET = tasting.Sample("Dry", 0.1), tasting.Sample("Sweet", 0.1)


def _tasting(method, n, similar=False):
    given = tasting.portion(DRY, SWEET, method, 10)
    made = tasting.plan(n, method, similar=similar)
    return tasting.prepare(made, DRY, SWEET, given, asks="sweeter", scales=["sweet"])


@pytest.mark.parametrize(
    ("method", "n", "x", "similar", "said"),
    [
        ("duo-trio", 20, 15, False, "15 of 20 found the one like the reference: a difference is shown at 5 % (15 were needed)."),
        ("tetrad", 24, 12, False, "12 of 24 sorted the four rightly: not shown to differ at 5 %; 13 were needed."),
        ("paired", 30, 21, False, "21 of 30 named “Dry” as sweeter, 9 “Sweet”: a difference is shown at 5 % (21 were needed)."),
        ("paired, expected", 30, 19, False, "19 of 30 named “Dry” as sweeter, as expected: not shown to differ at 5 %; 20 were needed."),
        ("preference", 30, 10, False, "10 of 30 liked “Dry” better, 20 “Sweet”: a preference is not shown at 5 %; 21 were needed."),
        ("triangle", 4, 4, False, "4 of 4 found the odd one: a difference is shown at 5 % (4 were needed)."),
        ("triangle", 2, 2, False, "2 of 2 found the odd one: not shown to differ at 5 %; with 2 no count would show it."),
        ("triangle", 66, 20, True, "20 of 66 found the odd one: alike, fewer than a third of guests tell them apart, at 5 %"),
        ("triangle", 24, 10, True, "10 of 24 found the odd one: not shown to be alike at 5 %"),
    ],
)  # fmt: skip
def test_verdicts_in_words(method, n, x, similar, said):
    one = _tasting(method, n, similar)
    result = tasting.difference_test(n, x, method)
    most = tasting.similar_count(n, method, 1 / 3) if similar else None
    found = Found(n, (), result, most=most, alike=None if most is None else x <= most, power=0.5)
    told = tasting_words.verdict(one, found)
    assert told[0].startswith(said), told[0]
    assert all("nan" not in line and "None" not in line for line in told)


def test_few_tasters_are_told_so():
    found = Found(5, (), rated=tasting.rated_all({"sweet": ([9] * 5, [1] * 5)}))
    told = " ".join(tasting_words.verdict(_tasting(SCALES, 5), found))
    assert "5 tasters are too few for an interval: it takes 6." in told
    assert "no difference is shown" in told
    assert tasting_words.rated_row(found.rated[0])[4] == "too few tasters"


def test_every_plan_can_be_told():
    for method in tasting.WAYS:
        for n in (1, 2, 5, 24, 300):
            for similar in (False, True):
                for alpha in (0.1, 0.05, 0.01):
                    told = " ".join(tasting_words.plan_words(tasting.plan(n, method, alpha, similar=similar)))
                    assert "-1" not in told
                    assert f"{n + 1} of {n}" not in told


def test_without_alcohol_nothing_is_said_of_it():
    none = tasting.Sample("A", 0.0)
    said = tasting_words.alcohol_words(tasting.portion(none, none), Display())
    assert said == "3 glasses of 15 mL. No alcohol is counted in them."


def test_every_word_on_the_page_is_there(panel):
    said = words(panel)
    for word in ("Needed", "Alcohol for each", "Answers", "How sure", "In each glass"):
        assert word in said
