"""What a fourth attack found, one test a finding; each failed before it was mended."""

import json
import os
import stat
import traceback
import zlib
from pathlib import Path

import pytest
from all_panels import PANELS
from jupyter_client.session import Session

from drinklab import files, gels, logbook, pantry, tasting
from drinklab.declared import Declared, declared
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.facts import Fact
from drinklab.gels import Set
from drinklab.kinds import PRESSURE, TEMPERATURE
from drinklab.recipe import SPOONED, Recipe
from drinklab.setting import Setting
from drinklab.steps import Caution
from drinklab.trial import run
from drinklab.units import FLUID_OUNCE, to_ml
from drinklab.workbook import launch
from drinklab.workbook.panels import tasting as tasting_panel
from drinklab.workbook.panels.bench import Bench
from drinklab.workbook.panels.prep import PrepPanel
from drinklab.workbook.panels.reach import TargetPanel
from drinklab.workbook.parts import tasting_words

LONG = bool(os.environ.get("DRINKLAB_LONG"))
SHELF = pantry.load()
SOUR = Recipe.parse("45 mL gin\n20 mL lemon juice", name="Clear Line")


# --- what is typed -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["white sugar", "salt", "citric acid, dry", "celery salt"])
@pytest.mark.parametrize("ounces", ["1 oz", "1½ oz", "2 ounces"])
def test_an_ounce_of_what_is_weighed_is_asked_about(ounces, name):
    """28.35 g by weight (avoirdupois), 25 g of sugar as a loose fluid ounce (USDA SR28 19335)."""
    with pytest.raises(InputError, match=r"in g or fl oz"):
        Recipe.parse(f"{ounces} {name}")


def test_a_fluid_ounce_of_sugar_is_shown_in_grams_whatever_is_chosen():
    drink = Recipe.parse("1 fl oz white sugar")
    assert drink.amounts[0] * SHELF["sugar_white"].density == pytest.approx(FLUID_OUNCE * SPOONED)
    for volume in ("mL", "oz"):
        text = drink.text(SHELF, Display(volume))
        assert " g " in text
        assert Recipe.parse(text).amounts == pytest.approx(drink.amounts, rel=1e-4)


# The US gallon is 231 in³ (NIST Handbook 44, appendix C), the UK one 4.54609 L (Weights and Measures Act 1985).
SIZES = {
    "1 US pint": 231 * 2.54**3 / 8, "2 U.S. quarts": 231 * 2.54**3 / 2, "1 US gal": 231 * 2.54**3,
    "1 UK pint": 568.26125, "1 imperial quart": 2 * 568.26125, "1 U.K. gallon": 4546.09,
}  # fmt: skip


@pytest.mark.parametrize(("text", "ml"), SIZES.items())
def test_a_pint_says_whose(text, ml):
    assert to_ml(text) == pytest.approx(ml, rel=1e-12)
    drink = Recipe.parse(f"{text} gin")
    for volume in ("mL", "oz"):
        assert Recipe.parse(drink.text(SHELF, Display(volume))).amounts == pytest.approx([ml], rel=1e-4)


@pytest.mark.parametrize("text", ["1 pint", "2 pints", "1 pt", "1 pt.", "½ quart", "1 qt", "1 gal", "2 gallons"])
def test_a_bare_pint_is_asked_about(text):
    for read in (to_ml, lambda words: Recipe.parse(f"{words} gin")):
        with pytest.raises(InputError, match=r"written US \w+ \(\d+ mL\) or UK \w+ \(\d+ mL\)"):
            read(text)


def test_a_limit_reads_spoons_and_ounces_of_a_solid_as_a_recipe_does(tmp_path):
    """A teaspoon of sugar is 4.2 g (USDA SR28 19335), and not 8."""
    page = TargetPanel(tmp_path, Recipe.parse("45 mL gin\n20 mL lemon juice\n10 g white sugar"))
    row = next(row for row in page.rows.children if row.bottle.id == "sugar_white")
    row.most.value = "1 tsp"
    assert row.most.ml * row.bottle.density == pytest.approx(4.2)
    row.most.value = "1 oz"
    with pytest.raises(InputError, match="in g or fl oz"):
        _ = row.most.ml


# --- what is saved ----------------------------------------------------------------------------------------------


def test_two_that_find_a_dead_lock_do_not_both_take_it(tmp_path, monkeypatch):
    """The second looks at the dead lock, the first takes it over meanwhile."""
    monkeypatch.setattr(files, "fcntl", None)
    lock = tmp_path / ".saving-x.lock"
    lock.touch()
    os.utime(lock, (1, 1))
    held, looked = [], files.Path.stat

    def stat_slowly(path, **how):
        found = looked(path, **how)
        if path == lock and not held:
            held.append(None)
            held[:] = [let_go for _ in range(3) if (let_go := files._locked(lock))]
        return found

    monkeypatch.setattr(files.Path, "stat", stat_slowly)
    held += [let_go for _ in range(3) if (let_go := files._locked(lock))]
    assert len(held) == 1
    held[0]()
    assert not list(tmp_path.iterdir())


def test_one_whose_lock_was_given_up_for_dead_takes_no_other_s_away(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "fcntl", None)
    with files.alone(tmp_path / "x"):
        os.utime(tmp_path / ".saving-x.lock", (1, 1))  # asleep since
        other = files.alone(tmp_path / "x", wait=1.0)
        other.__enter__()
    with pytest.raises(InputError, match="held by another page"), files.alone(tmp_path / "x", wait=0.1):
        pass
    other.__exit__(None, None, None)


@pytest.mark.parametrize("keep", [False, True])
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_who_may_read_a_file_stays_as_it_was(tmp_path, mode, keep):
    path = tmp_path / "in_hand.json"
    path.write_text("old")
    path.chmod(mode)
    files.write_over(path, "new", keep=keep)
    assert stat.S_IMODE(path.stat().st_mode) == mode
    assert path.read_text() == "new"


def test_a_new_file_is_as_private_as_the_person_has_it(tmp_path):
    before = os.umask(0o077)
    try:
        files.write_over(tmp_path / "x.json", "new")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "x.json").stat().st_mode) == 0o600


@pytest.mark.parametrize("name", ["in_hand.json", "my_choices.json", "my_ingredients.csv"])
def test_a_read_only_file_is_left_as_it_is_in_one_sentence(tmp_path, name):
    path = tmp_path / name
    path.write_text("old")
    path.chmod(0o444)
    with pytest.raises(InputError, match=rf"^{name} is read-only; it must be"):
        files.write_over(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == [name]


def test_what_a_link_leads_to_is_kept_as_damaged_and_the_link_stays(tmp_path):
    kept, bar = tmp_path / "kept", tmp_path / "bar"
    kept.mkdir()
    bar.mkdir()
    damaged = '{"format": 3, "drinklab": "0.2.0", "sett'  # what is none of ours: tests/test_attack_sixth.py
    (kept / "mine.json").write_text(damaged)
    (bar / "in_hand.json").symlink_to(kept / "mine.json")
    logbook.put_in_hand(bar, Setting(SOUR), SHELF)
    assert (bar / "in_hand.json").is_symlink()
    assert sorted(os.listdir(kept)) == ["mine.damaged-1.json", "mine.json"]
    assert (kept / "mine.damaged-1.json").read_text() == damaged
    assert logbook.in_hand(bar).setting.recipe == SOUR
    assert os.listdir(bar) == ["in_hand.json"]


@pytest.mark.parametrize("leads_to", ["gone/away.json", "in_hand.json"])
def test_a_link_to_nothing_is_named(tmp_path, leads_to):
    link = tmp_path / "in_hand.json"
    link.symlink_to(leads_to)
    with pytest.raises(InputError, match=r"^in_hand\.json is a link to what is not there"):
        logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF)
    assert os.listdir(tmp_path) == ["in_hand.json"]


def test_a_notebook_that_is_a_link_to_nothing_is_named(tmp_path):
    (tmp_path / launch.KEPT).mkdir()
    (tmp_path / launch.START).symlink_to("gone.ipynb")
    with pytest.raises(InputError, match=rf"^{launch.START} is a link to what is not there"):
        launch.copy_notebooks(tmp_path)
    assert (tmp_path / launch.START).is_symlink()


@pytest.mark.parametrize("page", [Bench, PrepPanel, TargetPanel])
def test_that_own_ingredients_are_left_out_is_said_as_long_as_they_are(tmp_path, page):
    path = tmp_path / pantry.OWN_FILE
    path.write_text("id,name,kind,abv_percent,sugar_g_l\ngin,gin,spirit,400,0\n")
    shown = page(tmp_path)
    said = shown.own_file.said
    assert said in shown.children
    assert "left out until this is mended: my_ingredients.csv, line 2" in said.value
    if page is not PrepPanel:
        shown.use(SOUR)
        assert "left out until this is mended" in said.value
    path.write_text("id,name,kind,abv_percent,sugar_g_l\nmine,my gin,spirit,40,0\n")
    shown.own_file.look()
    assert not said.value
    assert said.layout.display == "none"
    path.write_text("id,name,kind,abv_percent,sugar_g_l\nmine,my gin,spirit,400,0,\n")
    shown.own_file.look()
    assert "as they were before this, until it is mended" in said.value


@pytest.mark.parametrize("keep", [False, True])
def test_what_is_no_file_is_never_touched_through_a_link(tmp_path, keep):
    """The link gives way; the pipe that it leads to stays."""
    other = tmp_path / "other"
    other.mkdir()
    os.mkfifo(other / "pipe")
    folder = tmp_path / "bar"
    folder.mkdir()
    (folder / "x.json").symlink_to(other / "pipe")
    files.write_over(folder / "x.json", "new", keep=keep)
    assert os.listdir(other) == ["pipe"]
    assert stat.S_ISFIFO((other / "pipe").lstat().st_mode)
    assert (folder / "x.json").read_text() == "new"


# --- the drink in hand ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("spoil", [lambda t: t[: len(t) // 2], lambda t: "", lambda t: t.replace('t": 3', 't": 9')])
def test_a_drink_in_hand_that_cannot_be_read_does_not_keep_the_bench_from_keeping_the_next(tmp_path, spoil):
    logbook.put_in_hand(tmp_path, Setting(SOUR), SHELF)
    path = tmp_path / logbook.IN_HAND
    path.write_text(spoil(path.read_text()))
    before = path.read_text()
    page = Bench(tmp_path)
    page.pours.children[0].number.value = 33.0
    assert logbook.in_hand(tmp_path).setting.recipe.amounts[0] == pytest.approx(33)
    assert (tmp_path / "in_hand.damaged-1.json").read_text() == before


# --- tastings: who tastes what ----------------------------------------------------------------------------------

FIZZ = tasting.Sample("Fizz", 0.1, said=Declared(allergens=("eggs",)))
DRY, DRIER = tasting.Sample("Dry", 0.1), tasting.Sample("Drier", 0.1)


@pytest.mark.parametrize(
    "line",
    ["Ada (eggs)", "Ada - eggs", "Ada – kiwi", "Ada, eggs", "Ada eggs", "Ada; kiwi", "Ada no kiwi", "Ada = eggs",
     "Ada\teggs", "Ada, allergic to kiwi", "Ada milk-free"],
)  # fmt: skip
def test_what_a_taster_cannot_have_is_not_read_as_a_part_of_the_name(line):
    with pytest.raises(InputError, match="behind a colon what they can't have"):
        tasting.read_tasters(f"Bo\n{line}")


@pytest.mark.parametrize("line", ["Ada：eggs", "Ada : eggs", "Anne-Marie O'Neil: eggs", "Rye: eggs"])
def test_a_line_with_a_colon_keeps_them_from_it(line):
    (taster,) = tasting.read_tasters(line)
    assert tasting.unfit(taster, FIZZ)


@pytest.mark.parametrize("line", ["Ada", "Anne-Marie O'Neil", "Bo 2", "Rye:", "Dr. Å. Ström"])
def test_a_name_is_a_name(line):
    (taster,) = tasting.read_tasters(line)
    assert not tasting.unfit(taster, FIZZ)


def test_who_says_nuts_may_mean_peanuts():
    """Two words of annex II of EU Regulation 1169/2011, and one in many mouths (common practice, no source)."""
    peanut = tasting.Sample("Peanut", 0.1, said=Declared(allergens=("peanuts",)))
    assert tasting.unfit(tasting.Taster("Ada", ("nuts",)), peanut)
    assert not tasting.unfit(tasting.Taster("Ada", ("almonds",)), peanut)


def test_gelatin_of_which_nobody_knows_the_source_may_be_of_fish(tmp_path):
    """Fish gelatin is declared as fish (EU Regulation 1169/2011, annex II, 4)."""
    done = run(Recipe.parse("30 mL gin\n90 mL lemon juice", technique="none"), steps=[Set("gelatin")], draws=0)
    assert done.may_contain == ("fish",)
    assert "fish" in declared(*done.setting.brings(SHELF)).may_contain
    assert gels.gelatin(100).may_contain == ("fish",)
    assert gels.gelatin(100, fish=True).may_contain == gels.agar(100).may_contain == ()
    assert tasting.unfit(tasting.Taster("Ada", ("fish",)), tasting.sample(done))[0].code == "may hold"


def test_a_sheet_says_what_can_hurt_who_eats_a_jelly():
    done = run(Recipe.parse("30 mL gin\n90 mL lemon juice", technique="none"), steps=[Set("gelatin")], draws=0)
    one = tasting.prepare(tasting.plan(3), tasting.sample(done, "A"), DRY, tasting.portion(DRY, DRIER))
    sheets = tasting_words.sheets_html(one, Display())
    assert "can block the airway" in sheets
    assert "eaten fast" in sheets
    assert "May contain: fish" in sheets


# --- tastings: their files --------------------------------------------------------------------------------------


def _rated(scales):
    return tasting.prepare(tasting.plan(2, "scales"), DRY, DRIER, tasting.portion(DRY, DRIER, "scales"), scales=scales)


@pytest.mark.parametrize("typed", [["sweet; sour; liking"], ["sweet, sour;liking"], ["sweet", "sour", "liking"]])
def test_scales_with_any_mark_between_them_are_several(typed):
    assert _rated(typed).scales == ("sweet", "sour", "liking")


def test_no_scale_is_a_formula_of_a_spreadsheet(tmp_path):
    """What begins with = + - @ is one (OWASP, CSV injection)."""
    one = _rated(["=1+1", "+x", "-y", "@z"])
    text = tasting.answers_csv(one)
    assert text.startswith("tasting,taster,code,'=1+1,'+x,'-y,'@z\n")
    path = tmp_path / "answers.csv"
    path.write_text(text.replace(",,,,", ",1,2,3,4").replace(",,,", ",1,2,3,4"))
    assert len(tasting.read_answers(one, path).answers) == 2


@pytest.mark.parametrize("cell", ["7/10", "5 / 10", "7⁄10"])
def test_seven_of_ten_is_not_read_as_seven_tenths(tmp_path, cell):
    one = _rated(["sweet"])
    rows = tasting.answers_csv(one).splitlines()
    path = tmp_path / "answers.csv"
    path.write_text("\n".join([rows[0], *(f"{row}{cell}" for row in rows[1:])]))
    with pytest.raises(InputError, match=r"answers\.csv, row 2: .*such as 7 or 7\.5"):
        tasting.read_answers(one, path)


def test_so_is_it_not_in_the_form(tmp_path):
    page = tasting_panel.panel(tmp_path)
    page.method.value, page.tasters.value, page.scales.value = "scales", 3, "sweet; sour"
    page.write()
    assert page.opened.scales == ("sweet", "sour")
    boxes = page.form.children[1].children[1:]
    boxes[0].value = "7/10, 5/10"
    boxes[1].value = "6, 4"
    assert "7/10" in page.said.value
    assert not page.opened.answers


@pytest.mark.parametrize("first", [True, False])
def test_one_absent_for_one_glass_and_not_for_the_other_is_asked_about(tmp_path, first):
    one = _rated(["sweet"])
    head, *rows = tasting.answers_csv(one).splitlines()
    filled = [row + ("absent" if (i == 0) == first and i < 2 else "5") for i, row in enumerate(rows)]
    path = tmp_path / "answers.csv"
    path.write_text("\n".join([head, *filled]))
    with pytest.raises(InputError, match="absent for one glass, rated for another"):
        tasting.read_answers(one, path)


@pytest.mark.parametrize(
    ("field", "wrong"),
    [(("swallow",), "no"), (("swallow",), 0), (("similar",), "false"), (("portion", "rounds"), [1]),
     (("portion", "rounds"), "many"), (("portion", "glasses"), "x"), (("time",), "20261127/1000"),
     (("time",), "2026-W48-5")],
)  # fmt: skip
def test_a_saved_tasting_says_yes_and_no_and_when_as_drinklab_does(field, wrong):
    data = json.loads(json.dumps(tasting.to_dict(_rated(["sweet"]))))
    place = data["tasting"]
    for key in field[:-1]:
        place = place[key]
    place[field[-1]] = wrong
    key = data["tasting"]
    served = [[s["taster"], s["order"], s["codes"]] for s in key["servings"]]
    told = json.dumps([key["method"], key["names"], key["time"], served])
    data["id"] = f"t{zlib.crc32(told.encode()):08x}"  # a key that fits
    with pytest.raises(InputError, match=r"^x\.json: "):
        tasting.from_dict(data, "x.json")


def test_a_file_of_answers_whose_name_is_no_text_is_sent_to_the_page_as_text(tmp_path):
    """A name may hold bytes that are no UTF-8 (POSIX); a frame that is no UTF-8 ends the connection (RFC 6455, 8.1)."""
    (tmp_path / "tastings").mkdir()
    with open(os.path.join(os.fsencode(tmp_path), b"tastings", b"\xff.csv"), "w") as file:
        file.write("tasting")
    page = tasting_panel.panel(tmp_path)
    assert Session().pack(page.table.get_state()).decode("utf-8")
    assert page.table.options[1][1].endswith(".csv")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="who one is, is POSIX")
def test_a_folder_that_its_user_may_not_enter_is_sentences_on_every_page(tmp_path):
    """As a user who is not the superuser; the superuser may enter every folder."""
    home, folder = tmp_path / "home", Path("bar")
    (home / folder / "tastings").mkdir(parents=True)
    child = os.fork()
    if not child:  # what happens here is told by how it ends
        try:
            os.chdir(home)  # what is above may not be entered either
            if not os.geteuid():
                for path in (home, folder):
                    os.chown(path.resolve(), 65534, 65534)
                os.setuid(65534)
            folder.chmod(0)
            for name in PANELS if LONG else ("tasting", "prep"):
                page = PANELS[name](folder)
                page.volume_unit.value = "oz"
            os._exit(0)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
    assert os.waitpid(child, 0)[1] == 0
    (home / folder).chmod(0o755)


BRACES = ["{}", "{0}", "{background}", "{0.__class__.__mro__}", "%s {"]


@pytest.mark.parametrize("name", BRACES)
@pytest.mark.parametrize("method", ["preference", "paired", "paired, expected", "triangle"])
def test_no_name_and_no_question_is_a_template(name, method):
    a, b = tasting.Sample(name, 0.1), tasting.Sample(f"{name} B", 0.1)
    one = tasting.prepare(tasting.plan(3, method), a, b, tasting.portion(a, b, method), asks=name)
    one = tasting.answered(one, {s.taster: tasting.choices(s, method)[0] for s in one.servings})
    told = " ".join(tasting_words.verdict(one, tasting.findings(one)))
    assert name in told or method == "triangle"
    assert "class" not in told.replace(name, "")


@pytest.mark.parametrize("odd", ["\u202eold", "a\nb", "\x0bx", "\u2028", "\ud800"])
def test_a_tasting_of_odd_names_opens_again(tmp_path, odd):
    """Controls and halves of characters go at the door, so that what is written is what is read."""
    a, b = tasting.Sample(f"A {odd}", 0.1), tasting.Sample(f"B {odd}", 0.1)
    who = [tasting.Taster(f"Ada {odd}"), tasting.Taster("Bo")]
    one = tasting.prepare(tasting.plan(who), a, b, tasting.portion(a, b))
    path = tasting.save(one, tmp_path)[0]
    assert tasting.load(path).id == one.id


def test_two_tasters_of_one_name_are_asked_about():
    with pytest.raises(InputError, match="of one taster only"):
        tasting.plan([tasting.Taster("Ada"), tasting.Taster(" ada ")])


# --- what can hurt: two of a kind -------------------------------------------------------------------------------


def test_of_two_jellies_the_strength_and_the_gelatin_of_each_are_told():
    """A label states a strength above 1.2 % vol (EU Regulation 1169/2011, article 28); each jelly has its own."""
    weak = Recipe.parse("30 mL gin\n90 mL lemon juice", name="weak", technique="none")
    strong = Recipe.parse("60 mL gin\n60 mL lemon juice", name="strong", technique="none")
    beside = Setting(strong, steps=[Set("gelatin", fish=True)])
    done = run(Setting(weak, steps=[Set("gelatin")], beside=[beside], draws=0))
    told = " ".join(caution.text for caution in done.cautions)
    for of in (done, done.beside[0]):
        assert f"this one has {of.served.profile.abv:.0f} % vol" in told
    assert "made of pork or beef" in told
    assert "made of fish" in told
    assert [caution.code for caution in done.cautions].count("choking") == 1
    assert (done.allergens, done.may_contain) == (("fish",), ())


def test_of_two_vessels_each_is_told():
    one, other = (
        Caution("warm vessel", how=Fact("warmed above the limit", at=TEMPERATURE(40), pressure=PRESSURE(kpa), limit=PRESSURE(300)))
        for kpa in (400, 600)
    )  # fmt: skip
    assert declared(one, other, one).cautions == (one, other)
