"""Whatever is in an opened file, it opens or it is one sentence: files with one value changed at a time."""

import copy
import json
import random
import re
import signal
from datetime import date

import pytest
from long_run import DAY, LONG

from drinklab import boiling, carbonation, filtering, gels, logbook, milk, pantry, plain_data, writeup
from drinklab.dilution import OwnIce
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.trial import run
from drinklab.workbook.panels import dilution as dilution_panel
from drinklab.workbook.panels import filtering as filtering_panel

# JSON texts, so that what JSON can spell and Python cannot hold is among them.
DEEP = "[" * 5000 + "]" * 5000
BAD = {
    "null": "null", "true": "true", "false": "false", "0": "0", "-1": "-1", "-0.5": "-0.5", "1e308": "1e308",
    "-1e308": "-1e308", "1e999": "1e999", "NaN": "NaN", "-Infinity": "-Infinity", "5000 digits": "9" * 5000,
    "250 digits": "9" * 250, "empty": '""', "word": '"word"', "number in words": '"12"', "half": r'"\ud800"',
    "controls": r'"a\u000b\u0000b"', "markup": '"<img src=x onerror=alert(1)>"', "long": json.dumps("x" * 200_000),
    "list": "[]", "list of 0": "[0]", "nested": "[[[1]]]", "deep": DEEP, "object": "{}", "other": '{"a": {"b": 1}}',
    "mid deep": "[" * 60 + "1" + "]" * 60, "absent": None,
}  # fmt: skip
HOLE = "\u2603"


def places(data, path=()):
    """Every place in plain data."""
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        yield (*path, key)
        if isinstance(value, (dict, list)):
            yield from places(value, (*path, key))


def changed(data, place, bad):
    """JSON text of `data` with something else at one place."""
    made = copy.deepcopy(data)
    inner = made
    for key in place[:-1]:
        inner = inner[key]
    if bad is None:
        del inner[place[-1]]
        return json.dumps(made)
    inner[place[-1]] = HOLE
    return json.dumps(made, ensure_ascii=False).replace(f'"{HOLE}"', bad)


def variants(data, seed=10):
    """Changed texts: all of them in the long profile, else of the day's two places in five, a value drawn by lot."""
    luck, day = random.Random(seed), random.Random(f"{DAY} {seed}")
    for place in places(data):
        names = list(BAD) if LONG else luck.sample(list(BAD), 1)
        for name in names:
            if LONG or day.random() < 0.4:
                yield f"{place}: {name}", changed(data, place, BAD[name])


def opens_or_says(act, what):
    """What `act` gives, or None with one sentence said; anything else fails, and so does an open end."""
    signal.alarm(30)
    try:
        return act()
    except InputError as problem:
        said = str(problem)
        assert "\n" not in said, what
        assert said.endswith("."), what
        return None
    except Exception as error:
        raise AssertionError(f"{what}: {type(error).__name__} {error}") from error
    finally:
        signal.alarm(0)


@pytest.fixture(scope="module")
def trial():
    recipe = Recipe.parse(
        "45 mL aged rum, 50 %\n30 mL lemon juice\n20 mL honey syrup", name="Clear Line", technique="shaken"
    )
    return run(
        recipe, ice=OwnIce(ice=200, seconds=12), serve_volume=80, draws=0,
        steps=[
            milk.MilkWash(share=0.25), filtering.Filter(), carbonation.Chill(),
            carbonation.Carbonate(volumes=2.0, vessel=next(iter(carbonation.VESSELS))), carbonation.Pour(),
        ],
    )  # fmt: skip


@pytest.fixture(autouse=True)
def no_draws(monkeypatch):
    """One version of the drink is enough to see whether it opens."""
    monkeypatch.setattr(logbook.saved, "run", lambda *a, **k: run(*a, **k | {"draws": 0}))


def test_a_damaged_trial(trial, tmp_path):
    path = logbook.save(trial, tmp_path, title="Night", note="short")
    told = json.loads(path.read_text(encoding="utf-8"))
    assert logbook.load(path).served.profile == trial.served.profile
    opened = refused = 0
    for what, text in variants(told):
        path.write_text(text, encoding="utf-8")
        for act in (logbook.load, logbook.changed) if LONG else (logbook.changed,):  # which loads it too
            got = opens_or_says(lambda act=act: act(path), f"{act.__name__} {what}")
            opened, refused = opened + (got is not None), refused + (got is None)
        entries, problems = logbook.entries(tmp_path)
        assert len(entries) + len(problems) == 1
    assert opened > 15
    assert refused > 50


@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_damaged_steps(tmp_path):
    gel = run(
        Recipe.parse("60 mL gin\n30 mL lemon juice\n30 mL sugar syrup"), draws=0, steps=[boiling.Boil(), gels.Set()]
    )
    path = logbook.save(gel, tmp_path)
    told = json.loads(path.read_text(encoding="utf-8"))
    for number, step in enumerate(told["setting"]["steps"]):
        for field in step:
            for name, bad in BAD.items():
                text = changed(told, ("setting", "steps", number, field), bad)
                path.write_text(text, encoding="utf-8")
                opens_or_says(lambda: logbook.load(path), f"{step['step']} {field}: {name}")


def test_a_damaged_write_up(trial):
    page = writeup.html(trial)
    told = json.loads(re.search(r'ld\+json">(.*?)</script>', page, re.DOTALL)[1])
    del told["drinklab"]["stages"]  # not read
    for what, text in variants({"drinklab": told["drinklab"]}, seed=11):
        made = f'<script type="application/ld+json">{text.replace("<", "&lt;")}</script>'
        again = opens_or_says(lambda made=made: writeup.rerun(made), what)
        if again is not None:
            # What opens can be written up, and opened, again.
            opens_or_says(lambda again=again: writeup.read(writeup.html(again)), f"again {what}")


@pytest.mark.parametrize("text", [
    "<", "<script", "<script>" * 200_000, "<!--" * 200_000, "<a b='" * 200_000,
    '<script type="application/ld+json">' * 100_000, '<script type="application/ld+json">' + "[" * 500_000 + "</script>",
    "x" * 300 + "\0", "\0", "a/" * 3000,
])  # fmt: skip
def test_what_is_no_page_takes_no_time(text):
    for act in (writeup.read, writeup.rerun):
        assert opens_or_says(lambda act=act: act(text), text[:40]) is None
    for other in (5, None, b"<p>"):
        assert opens_or_says(lambda other=other: writeup.read(other), other) is None


def test_damaged_choices(tmp_path):
    path = tmp_path / logbook.CHOICES
    told = logbook.DEFAULTS | {"newer": {"a": [1]}}
    for place in places(told):
        for name, bad in BAD.items():
            path.write_text(changed(told, place, bad), encoding="utf-8")
            opens_or_says(lambda: logbook.choices(tmp_path), f"{place} {name}")
            before, newer = path.read_bytes(), opens_or_says(lambda: plain_data.read_json(path, "choices"), name)
            logbook.save_choices(tmp_path, tool="scale")
            assert logbook.choices(tmp_path)["tool"] == "scale", name
            kept = [p.read_bytes() for p in tmp_path.glob("*.damaged-*")]
            # Kept whole under another name, or carried along.
            assert before in kept or newer.get("newer") == plain_data.read_json(path, "choices").get("newer")
            for file in tmp_path.iterdir():
                file.unlink()


def test_damaged_own_ingredients(tmp_path):
    path = tmp_path / pantry.OWN_FILE
    header = ["id", "name", "kind", "abv_percent", "abv_pm", "sugar_g_l", "sucrose_g_l", "citric_g_l", "fat_g_l", "state",
              "density_kg_l", "allergens", "caution", "source_class"]  # fmt: skip
    row = ["hay", "hay syrup", "syrup", "10", "0.5", "400", "400", "5", "1", "liquid", "1.15", "milk", "dairy", "label"]
    cells = [text for text in BAD.values() if text] + [
        "-5",
        "1e400",
        "٣",
        "0x10",
        "1_000",
        "nan",
        "inf",
        '"',
        ";",
        "\t",
    ]
    for column in range(len(header)):
        for bad in cells:
            for quoted in (True, False):
                cell = f'"{bad.replace(chr(34), chr(34) * 2)}"' if quoted else bad
                line = ",".join([*row[:column], cell, *row[column + 1 :]])
                path.write_text(f"{','.join(header)}\n{line}\n", encoding="utf-8", errors="surrogatepass")
                shelf = opens_or_says(lambda: pantry.load(tmp_path), f"{header[column]} {bad[:20]}")
                if shelf is not None and "hay" in shelf:
                    drink = Recipe.parse("40 mL gin", shelf)
                    opens_or_says(lambda d=drink, s=shelf: run(d, pantry=s, draws=0), f"{header[column]} {bad[:20]}")
    head = path.read_bytes()
    for place in range(0, len(head), 1 if LONG else 97):
        for byte in b"\x00\xff\"',;\n":
            path.write_bytes(head[:place] + bytes([byte]) + head[place + 1 :])
            opens_or_says(lambda: pantry.load(tmp_path), f"byte {place} {byte}")


def test_damaged_weighings_and_filter_logs(tmp_path):
    log = filtering_panel.FilterLog((1.0, 3.0, 7.0), (40.0, 80.0, 120.0), 500.0, drink="Clear Line")
    for path, read in (
        (filtering_panel.save_log(tmp_path, log), filtering_panel.own_logs),
        (dilution_panel.save_fit(tmp_path, dilution_panel.OwnFit("stirred", 1.0, 0.03, 2.0, (10.0, 30.0), (12.0, 25.0)), drink="x", setting={}), dilution_panel.own_fits),
    ):  # fmt: skip
        told = json.loads(path.read_text(encoding="utf-8"))
        assert [len(part) for part in read(tmp_path)] == [1, 0]
        for place in places(told):
            for name, bad in BAD.items():
                path.write_text(changed(told, place, bad), encoding="utf-8")
                found, problems = opens_or_says(lambda read=read: read(tmp_path), f"{path.name} {place} {name}")
                assert len(found) + len(problems) == 1
                assert not any("\n" in p for p in problems)
        path.unlink()


def test_numbers_that_are_none_are_told_as_such(trial, tmp_path):
    path = logbook.save(trial, tmp_path)
    told = json.loads(path.read_text(encoding="utf-8"))
    for place, bad, words in (
        (("ingredients", "lemon_juice", "solutes", "citric"), "-50", "citric of 'lemon juice.*' is -50; it must be 0 to"),
        (("ingredients", "lemon_juice", "allergens"), '"milk"', "allergens of the ingredient 'lemon_juice' is a str; .* a list"),
        (("stages", 0, "profile", "abv"), '"12"', "abv of stage 'mixed' is '12'; it must be a number"),
        (("stages", 0, "profile", "abv"), "9" * 5000, "what has 5,000 digits is no number"),
        (("stages", 0, "profile", "abv"), "1e999", "1e999 is no number"),
        (("setting", "recipe", "name"), '"' + "x" * 400 + '"', "name of the drink is 400 letters long; it must be at most 300 letters"),
    ):  # fmt: skip
        path.write_text(changed(told, place, bad), encoding="utf-8")
        with pytest.raises(InputError, match=words) as caught:
            logbook.changed(path)
        assert str(caught.value).startswith(path.name)
        page = f'<script type="application/ld+json">{json.dumps({"drinklab": 1})[:-2]}{path.read_text()}}}</script>'
        if place[0] == "ingredients":
            with pytest.raises(InputError, match=words):
                writeup.rerun(page)


def test_more_pours_or_steps_than_anybody_takes(trial, tmp_path):
    path = logbook.save(trial, tmp_path)
    told = json.loads(path.read_text(encoding="utf-8"))
    for group, key, words in (("recipe", "pours", "at most 200"), (None, "steps", "at most 50")):
        many = copy.deepcopy(told)
        (many["setting"][group] if group else many["setting"])[key] *= 500
        path.write_text(json.dumps(many), encoding="utf-8")
        with pytest.raises(InputError, match=words):
            logbook.load(path)


def test_what_a_page_declares_is_not_dropped(tmp_path):
    from dataclasses import replace

    shelf = pantry.load()
    theirs = replace(shelf["honey_syrup"], allergens=("nuts",), may_contain=("celery",), cautions=("raw_egg",))
    mine = replace(shelf["honey_syrup"], allergens=("milk",), sugar=shelf["honey_syrup"].sugar)
    drink = run(Recipe.parse("45 mL gin\n20 mL honey syrup"), pantry=shelf.with_items([theirs]), draws=0)
    again = writeup.rerun(writeup.html(drink), pantry=shelf.with_items([mine]))
    assert set(again.allergens) == {"milk", "nuts"}
    assert again.may_contain == ("celery",)
    assert any(c.code == "raw egg" for c in again.cautions)
    (note,) = [n for n in again.notes if "saved with" in n]
    assert "nuts, celery, raw egg, which your pantry does not name" in note
    assert note.replace("'", "&#39;") in writeup.html(again)
    # What the pantry holds for sure is not said to be in it perhaps; and nothing is said where nothing is new.
    sure = replace(shelf["honey_syrup"], allergens=("nuts", "celery"), cautions=("raw_egg",))
    again = writeup.rerun(writeup.html(drink, date=date(2025, 6, 1)), pantry=shelf.with_items([sure]))
    assert (set(again.allergens), again.may_contain) == ({"nuts", "celery"}, ())
    assert not [n for n in again.notes if "saved with" in n]
    # The same for a trial that was saved.
    saved = logbook.load(logbook.save(drink, tmp_path), pantry=shelf.with_items([mine]))
    assert set(saved.allergens) == {"milk", "nuts"}
