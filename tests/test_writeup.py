"""The write-up: safe with any text, complete, rerun from itself, and never written over."""

import html
import json
import math
import re
from datetime import date
from html.parser import HTMLParser

import pytest
from long_run import some
from own_drink import BRANCH

from drinklab import classics, logbook, profile, tables, writeup
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.trial import difference, run

NASTY = "<script>alert(1)</script> & \"quotes\" 'single' {{ 7*7 }} {% raw %} </title> --> ]]>"
MARKDOWN = (
    "# no heading *bold* _it_ `code` [link](x) ![pic](y) | cell ~~gone~~ $x$ \\ <b>b</b> http://a.example/ 1. 2) &amp;"
)


@pytest.fixture(scope="module")
def trial():
    return run(
        Recipe.parse(
            BRANCH, name="Branch Line, first sour", technique="shaken", family="sour",
            question="Does the sherry keep its salt?", method="Shake hard.\nFine strain.",
        )
    )  # fmt: skip


@pytest.fixture(scope="module")
def page(trial):
    return writeup.html(trial)


class Words(HTMLParser):
    """Words that a reader sees, tags, and attributes."""

    def __init__(self, page):
        super().__init__()
        self.text, self.tags, self.attributes, self._hidden = "", [], [], 0
        self.feed(page)
        self.text = " ".join(self.text.split())

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, *a) for a in attrs]
        self._hidden = tag in ("script", "style")

    def handle_endtag(self, tag):
        self._hidden = False
        if tag in ("td", "th", "p", "li", "dt", "dd"):
            self.text += " "

    def handle_data(self, data):
        if not self._hidden:
            self.text += data


def linked_data(page):
    found = re.findall(r'<script type="application/ld\+json">(.*?)</script>', page, re.DOTALL)
    assert len(found) == 1
    return json.loads(found[0])


def nasty(text):
    recipe = Recipe.parse(BRANCH, name=text, technique="shaken", question=text, method=f"{text}\n{text}")
    return run(recipe, draws=20)


def about(text):
    return {"title": text, "notes": f"{text}\n{text}", "baseline": nasty(text), "chart_text": text}


# --- what was typed -------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [NASTY, MARKDOWN])
def test_typed_text_is_shown_and_never_acts_in_html(text):
    made = writeup.html(nasty(text), **about(text), chart_svg="<svg xmlns='x'></svg>")
    words, plain = Words(made), Words(writeup.html(nasty("plain"), **about("plain"), chart_svg="<svg></svg>"))
    assert sorted(words.tags) == sorted(plain.tags)
    assert words.tags.count("script") == 3  # schema.org, the data of what can be tried, and its script
    assert text in words.text.replace("\u00a0", " ")
    assert not [a for a in words.attributes if a[1].startswith("on")]
    assert linked_data(made)["drinklab"]["setting"]["recipe"]["name"] == text


def test_typed_text_is_shown_and_never_acts_in_markdown():
    mistune = pytest.importorskip("mistune")
    render = mistune.create_markdown(escape=False, plugins=["table", "strikethrough", "url", "math"])
    for text in (NASTY, MARKDOWN, "1. one", "1) one", "- one", "+ one", "---", "===", "> said", "    code", "```"):
        words = Words(render(writeup.markdown(nasty(text), **about(text))))
        plain = Words(render(writeup.markdown(nasty("plain"), **about("plain"))))
        assert words.tags == plain.tags, text
        shown = " ".join(words.text.split())
        assert " ".join(text.split()) in shown, text


def test_hidden_characters_are_left_out():
    made = writeup.html(nasty("gin\x00\u202eevil\ud800 fizz"), title="a\x08b\u2028c")
    assert not re.search(r"[\x00\x08\u202e\ud800\u2028]", made.split("</script>", 1)[1])
    made.split("</script>", 1)[1].encode()


def test_no_outside_address(trial):
    kept = {"baseline": run(Recipe.parse("60 mL gin", name="gin")), "notes": "Tart."}
    known = {row["address"] for row in tables.read("works").rows()}
    for text in (writeup.html(trial, **kept), writeup.markdown(trial, **kept)):
        # A work's public address may be followed by hand; nothing is fetched by itself.
        assert set(re.findall(r"\w+://[^\s\"'<]*", text)) <= {"https://schema.org", *known}
        assert not re.search(r"src=|@import|url\(|<(link|base|iframe|object)\b|action=", text)
    page = writeup.html(trial, **kept)
    words = Words(page)
    links = [value for _, name, value in words.attributes if name == "href"]
    ids = [value for _, name, value in words.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert {link[1:] for link in links if link[0] == "#"} <= set(ids)
    assert all(link[0] == "#" or link in known or link.startswith("data:application/zip;base64,") for link in links)
    assert "default-src 'none'" in page


# --- its data -------------------------------------------------------------------------------------


def test_the_page_can_be_run_again_to_the_same_figures(trial, page, tmp_path):
    assert writeup.read(page) == trial.recipe
    assert writeup.rerun(page).stages == trial.stages
    path, _ = writeup.save(trial, tmp_path)
    assert writeup.read(path) == writeup.read(str(path)) == trial.recipe
    assert writeup.rerun(path).stages == trial.stages


def test_settings_come_back(trial, page):
    odd = run(trial.recipe, melt=1 / 3, serve_volume=99.9, tool="scale")
    again = writeup.rerun(writeup.html(odd))
    assert again.stages == odd.stages
    assert (again.melt, again.melt_by_rule, again.serve_volume, again.tool) == (1 / 3, False, 99.9, "scale")


@pytest.mark.parametrize("name", some(classics.load().names))
def test_every_classic_makes_a_sound_page(name):
    recipe = classics.load()[name]
    drink = run(recipe, draws=20)
    made, text = writeup.html(drink, display=Display(volume="oz")), writeup.markdown(drink)
    assert writeup.read(made) == recipe
    assert not re.search(r"\b(nan|inf|infinity|none,)\b", Words(made).text + text, re.IGNORECASE)


def test_linked_data_says_what_the_page_says(trial, page):
    data = linked_data(page)
    assert (data["@context"][0], data["@type"], data["name"]) == (
        "https://schema.org",
        "Recipe",
        "Branch Line, first sour",
    )
    assert data["recipeIngredient"][0] == "45 mL dark rum, Jamaican style, 46 %"
    assert len(data["recipeIngredient"]) == 6
    assert [s["text"] for s in data["recipeInstructions"]] == ["Shake hard.", "Fine strain."]
    assert data["recipeYield"] == f"1 drink, {trial.served.profile.volume:.0f} mL"
    assert data["drinklab"]["stages"][-1]["profile"]["abv"] == trial.served.profile.abv
    assert data["drinklab"]["ingredients"]["lemon_juice"]["source"]


@pytest.mark.parametrize(
    "text",
    [
        "<p>nothing here</p>",
        '<script type="application/ld+json">{"@type": "Recipe"}</script>',
        '<script type="application/ld+json">{"drinklab": </script>',
        '<script type="application/ld+json">{"drinklab": {}}</script>',
        '<script type="application/ld+json">{"drinklab": {"recipe": {"name": 1, "pours": []}}}</script>',
        "no/such/file.html",
    ],
)
def test_what_is_no_page_is_one_sentence(text):
    for reader in (writeup.read, writeup.rerun):
        with pytest.raises(InputError) as caught:
            reader(text)
        assert "\n" not in str(caught.value)


def test_someone_without_the_ingredient_can_rerun(tmp_path):
    from dataclasses import replace

    from drinklab import pantry

    shelf = pantry.load()
    own = replace(shelf["honey_syrup"], id="own_syrup", name="hay syrup", sugar=500, solutes={"sucrose": 500})
    mine = shelf.with_items([own])
    drink = run(Recipe.parse("45 mL gin\n20 mL hay syrup", mine), pantry=mine)
    assert writeup.rerun(writeup.html(drink)).stages == drink.stages


# --- files ----------------------------------------------------------------------------------------


def test_files_are_never_overwritten(trial, tmp_path):
    day = date(2025, 6, 1)
    first = writeup.save(trial, tmp_path, title="Night: one/two", date=day)
    kept = [p.read_bytes() for p in first]
    second = writeup.save(trial, tmp_path, title="Night: one/two", date=day)
    assert [p.name for p in first + second] == [
        "branch-line-first-sour-night-one-two_version_01.html", "branch-line-first-sour-night-one-two_version_01.md",
        "branch-line-first-sour-night-one-two_version_02.html", "branch-line-first-sour-night-one-two_version_02.md",
    ]  # fmt: skip
    # A page names its own file, and so does the text beside it.
    for path in first + second:
        name = path.with_suffix(".html").name
        assert f'dl.writeup.rerun("{name}")' in html.unescape(path.read_text(encoding="utf-8"))
    assert [p.read_bytes() for p in first] == kept
    second[0].unlink()
    third = writeup.save(trial, tmp_path, title="Night: one/two", date=day)
    assert third[0].name.endswith("_03.html")


# --- what it says ---------------------------------------------------------------------------------


def test_recipe_in_ml_oz_and_parts(page):
    text = Words(page).text
    assert re.search(r"dark rum, Jamaican style, 46.% 45 1½ \(−1.%\) 3 46.% vol", text)  # eighths: 44.4 mL for 45
    assert re.search(r"amontillado sherry \(dry\) 20 ⅝ \(−8.%\) 1⅓ 17.5.% vol", text)
    assert re.search(r"lemon juice, fresh 15 ½ \(−1.%\) 1 none", text)


def test_stage_figures_with_their_uncertainty(trial, page):
    stage = trial.served
    shown = f"{stage.profile.abv:.1f} ± {stage.spread('abv'):.1f}"
    assert shown in Words(page).text.replace("\u00a0", " ")
    assert shown in writeup.markdown(trial)
    ph, spread = stage.ph
    assert f"{ph:.1f} ± {math.ceil(10 * spread) / 10:.1f}" in Words(page).text.replace("\u00a0", " ")
    # Without draws nothing is uncertain but the pH, whose sums are not sure themselves.
    plain = writeup.markdown(run(trial.recipe, draws=0)).split("## Among")[0]
    unsure = [line.partition("pH") for line in plain.splitlines() if "±" in line]
    assert [(before[:4], word) for before, word, _ in unsure] == [("One ", "pH"), ("| ", "pH")]
    assert not [before for before, _, _ in unsure if "±" in before]


def test_a_drink_without_acid_says_so():
    stiff = run(Recipe.parse("60 mL rye whiskey\n5 mL sugar syrup", name="stiff"))
    assert math.isinf(stiff.served.profile.sugar_to_acid)
    assert "| no acid | no acid | no acid |" in writeup.markdown(stiff)
    sharp = run(Recipe.parse("60 mL rye whiskey\n20 mL lemon juice", name="sharp"))
    assert "no ratio without acid" in writeup.markdown(stiff, baseline=sharp)


def test_difference_is_signed(trial):
    base = run(Recipe.parse("45 mL aged rum, 50 %\n30 mL lemon juice\n20 mL honey syrup", technique="shaken"))
    text, change = writeup.markdown(trial, baseline=base), difference(trial, base)
    assert change["alcohol"] > 0 > change["acid"]
    assert f"| {change['alcohol']:+.1f} |" in text
    assert f"| −{-change['acid']:.1f} |" in text
    assert "Difference" not in writeup.markdown(trial)
    assert writeup.markdown(trial, baseline=trial).count("| 0.0 |") == 6  # each figure, rounded as on the bench


def test_place_in_words(trial, page):
    known, text = classics.load(), Words(page).text.replace("\u00a0", " ")
    found = profile.place(trial.served.profile, known, "sour")
    assert f"Sweeter than {found.percentile['sugar']:.0f} % of the {len(known)} classics." in text
    for name, _, _ in (*found.nearest, *found.nearest_in_family):
        assert name in text
    water = run(Recipe.parse("100 mL water", technique="none"))
    assert "stronger than none of" in writeup.markdown(water).lower()


def test_care_is_taken(trial, page):
    text = Words(page).text.replace("\u00a0", " ")
    assert "Contains: sulphites. Check the labels of your bottles." in text
    for caution in trial.cautions:
        assert caution.text in text
    grams = trial.served.profile.alcohol
    uk = writeup.markdown(trial, country="United Kingdom")
    assert f"{grams:.1f} g of alcohol, {grams / 8:.1f} standard drinks (United Kingdom, 8 g each)" in uk
    assert not re.search(r"\b(BAC|blood|driv\w*|sober|limit)\b", text + uk, re.IGNORECASE)
    with pytest.raises(InputError, match="Atlantis"):
        writeup.html(trial, country="Atlantis")


def test_sources_of_every_figure(trial, page):
    text = Words(page).text.replace("\u00a0", " ")
    known = {way: row for row in tables.read("works").rows() for way in row["written"].split("|")}
    names = re.compile("|".join(map(re.escape, sorted(known, key=len, reverse=True))))
    for bottle in trial.recipe.bottles(trial.pantry):
        # Each work by its number, each other word as it stands but for how it was come by.
        for name in names.findall(bottle.source):
            assert known[name]["title"] in text
        for words in names.split(bottle.source.replace(" (second hand)", "")):
            assert words.strip() in text
    for words in ("recommendation R 22", "SPS-4", "Liquid Intelligence. 2014.", "from memory", "105 published"):
        assert words in text
    by_hand = writeup.markdown(run(trial.recipe, melt=0.4))
    assert "Melt water: set by hand" in by_hand
    assert "Liquid Intelligence" not in by_hand


def test_energy_of_a_serve(trial):
    # 40 mL at 40 % vol: 12.63 g of ethanol at 29 kJ/g.
    gin = writeup.facts._energy(run(Recipe.parse("40 mL vodka", technique="none")))
    assert gin["kj"] == pytest.approx(0.4 * 40 * 0.78924 * 29, rel=0.01)
    whole, half = (writeup.facts._energy(run(trial.recipe, serve_volume=v))["kj"] for v in (150, 75))
    assert whole == pytest.approx(2 * half, rel=1e-6)

    # 20 mL of egg white hold 2.1 g of protein; of 30 mL of water only half is served.
    egg = writeup.facts._energy(
        run(Recipe.parse("20 mL egg white\n20 mL soda water", technique="none"), serve_volume=20)
    )
    white = load()["egg_white"].solutes["protein"] / 1000
    assert egg["grams"]["protein"] == pytest.approx(20 * white * 20 / 40, rel=0.01)


def test_tables_speak_to_screen_readers(page):
    words = Words(page)
    assert ("html", "lang", "en") in words.attributes
    assert words.tags.count("th") == sum(a[:2] == ("th", "scope") for a in words.attributes)
    assert words.tags.count("h1") == 1
    labels = {value for _, name, value in words.attributes if name == "aria-labelledby"}
    assert labels <= {value for _, name, value in words.attributes if name == "id"}


def test_chart_parts(trial):
    live, still = '<div id="live">chart</div>', "<svg>still</svg>"
    both = writeup.html(trial, chart_html=live, chart_svg=still, chart_text="a <chart>")
    assert live in both
    assert ("img", "class", "print") in Words(both).attributes
    assert ("img", "alt", "a <chart>") in Words(both).attributes
    only = Words(writeup.html(trial, chart_svg=still))
    assert "img" in only.tags
    assert ("img", "class", "print") not in only.attributes
    assert "Among the classics Nearest of the 105" in Words(writeup.html(trial)).text
    assert "img" not in Words(writeup.html(trial)).tags


def test_a_saved_trial_can_be_written_up(trial, tmp_path):
    again = logbook.load(logbook.save(trial, tmp_path))
    assert writeup.html(again) == writeup.html(trial)


@pytest.mark.parametrize("show", [Display(), Display(volume="oz")])
def test_bench_and_write_up_show_a_figure_alike(trial, show):
    """One table of words, units and rounding: the pages differed in sugar below 20 g/L and in ratios from 20."""
    weak = run(Recipe.parse("45 mL gin\n120 mL soda water\n5 mL sugar syrup\n3 mL lemon juice", technique="built"))
    for made in (trial, weak):
        text = writeup.markdown(made, display=show)
        for figure, title in profile.TITLES.items():
            number, around, unit = profile.shown(made.served.profile, figure, show, made.served.spread(figure))
            line = next(line for line in text.splitlines() if line.startswith(f"| {title}"))
            assert line.rstrip(" |").endswith(" ".join(part for part in (number, around) if part)), line
            assert unit in line
