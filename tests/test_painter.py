"""A picture that cannot be drawn costs the picture, never the process with all that is unsaved in it."""

import json
import os
import signal
import sys
import threading

import pytest

from drinklab import logbook, writeup
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.trial import run
from drinklab.workbook.charts import live, painter, pictures
from drinklab.workbook.panels import bench as bench_panel

SPEC = {
    "data": {"values": [{"a": 1, "words": "x"}]}, "mark": "text",
    "encoding": {"x": {"field": "a", "type": "quantitative"}, "text": {"field": "words", "type": "nominal"}},
}  # fmt: skip


def labelled(words):
    return json.dumps(SPEC | {"data": {"values": [{"a": 1, "words": words}]}})


@pytest.fixture
def engine():
    one = painter.Painter()
    yield one
    one.stop()


@pytest.fixture
def sour():
    return run(Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL sugar syrup", technique="shaken", name="Clear Line"))


@pytest.fixture
def dying(monkeypatch):
    """The engine as it is, but each picture is asked for with a character that ends it."""
    draw = painter.Painter.draw
    monkeypatch.setattr(painter.Painter, "draw", lambda self, spec: draw(self, labelled("a\x0bb")))
    pictures._drawn.cache_clear()
    yield
    pictures._drawn.cache_clear()


def test_the_engine_dies_and_we_live(engine):
    # The vertical tab is the very input that ended the kernel; the engine aborts its whole process on it.
    assert ">x<" in engine.draw(json.dumps(SPEC))
    before = engine._process
    with pytest.raises(painter.StoppedError):
        engine.draw(labelled("a\x0bb"))
    assert before.returncode == -signal.SIGABRT
    assert ">fine<" in engine.draw(labelled("fine"))
    engine._process.kill()
    engine._process.wait()
    assert ">again<" in engine.draw(labelled("again"))


def test_the_engine_is_kept_from_one_picture_to_the_next(engine):
    for words in ("one", "two"):
        engine.draw(labelled(words))
        engine.first = getattr(engine, "first", engine._process)
    assert engine._process is engine.first


def test_a_picture_without_end_is_ended(engine, monkeypatch):
    engine.draw(json.dumps(SPEC))
    monkeypatch.setattr(painter, "PATIENCE", 0.5)
    os.kill(engine._process.pid, signal.SIGSTOP)
    with pytest.raises(painter.StoppedError):
        engine.draw(labelled("late"))


def test_an_interrupt_leaves_no_answer_for_the_next_picture(engine, monkeypatch):
    engine.draw(json.dumps(SPEC))

    class Interrupted:
        def __init__(self, pipe):
            self.close = pipe.close

        def readline(self):
            raise KeyboardInterrupt

    monkeypatch.setattr(engine._process, "stdout", Interrupted(engine._process.stdout))
    with pytest.raises(KeyboardInterrupt):
        engine.draw(labelled("first"))
    assert ">second<" in engine.draw(labelled("second"))


def test_two_threads_get_each_their_own_picture(engine):
    got = {}
    threads = [threading.Thread(target=lambda w=word: got.update({w: engine.draw(labelled(w))})) for word in "pqrstu"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(f">{word}<" in picture for word, picture in got.items())
    assert len(got) == 6


def test_the_engine_imports_nothing_from_the_working_folder(engine, tmp_path, monkeypatch):
    for name in ("vl_convert", "json", "base64", "sitecustomize"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w')")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    engine.draw(json.dumps(SPEC))
    assert not (tmp_path / "ran").exists()


def test_an_engine_that_does_not_start_is_a_sentence(engine, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/no/such/python")
    with pytest.raises(painter.StoppedError):
        engine.draw(json.dumps(SPEC))


@pytest.mark.parametrize("sign", ["\x0b", "\x00", "\x1b", "\uffff", "\ud800"], ids=ascii)
def test_no_chart_holds_what_ends_the_engine(sign):
    rows = live.plain_rows("me", [{"label": f"a{sign}b"}])
    assert rows == [{"label": "a b"}]
    chart = SPEC | {"title": f"a{sign}b", "data": {"name": "me", "values": []}}
    assert ">a b<" in pictures.static_svg(chart, me=[{"a": 1, "words": f"a{sign}b"}])
    assert sign not in pictures.interactive_html(chart, engine=False, me=[{"a": 1, "words": f"a{sign}b"}])


def test_a_label_without_end_is_cut():
    # 20,000 letters took the engine 26 s.
    (row,) = live.plain_rows("me", [{"label": "x" * 20_000}])
    assert row["label"] == "x" * 299 + "…"
    drawn = pictures.static_svg(SPEC | {"data": {"name": "me"}}, me=[{"a": 1, "words": "x" * 20_000}])
    assert "x" * 300 not in drawn


def test_a_write_up_without_its_picture_is_better_than_none(sour, tmp_path, dying):
    page, text = bench_panel.write_up(sour, tmp_path, title="Night one")
    for file in (page, text):
        said = file.read_text(encoding="utf-8")
        assert "This page is without its chart: chart is more than the drawing engine can take" in said
        assert "Night one" in said
    assert "<figure>" not in page.read_text(encoding="utf-8")
    assert writeup.rerun(page).stages == sour.stages
    with pytest.raises(InputError, match="chart is more than the drawing engine can take"):
        pictures.static_svg(SPEC)


def test_any_text_may_be_written_up(tmp_path):
    dirty = "Clear\x0bLine\x00\ud800 <b>"
    drink = run(Recipe.parse("45 mL gin\n20 mL lemon juice", name=dirty, question=dirty, method=dirty))
    page, text = bench_panel.write_up(drink, tmp_path, title=dirty, notes=dirty, baseline=drink)
    for file in (page, text):
        said = file.read_text(encoding="utf-8")
        assert "without its chart" not in said
        assert not set(said) & set("\x0b\x00\ufffd")
        assert "Clear Line" in said
    assert writeup.read(page).name == "Clear Line   <b>"
    saved = logbook.save(drink, tmp_path, title=dirty, note=dirty)
    assert (logbook.entry(saved).title, logbook.entry(saved).note) == ("Clear Line   <b>", "Clear Line   <b>")


@pytest.mark.parametrize(
    ("field", "most"), [("title", 300), ("notes", 100_000), ("question", 100_000), ("method", 100_000)]
)
def test_what_is_too_long_for_a_page_is_said(sour, field, most):
    writeup.markdown(sour, **{field: "x " * (most // 2)})
    with pytest.raises(InputError, match=f"{field} is {most + 1:,} letters long; it must be at most {most:,} letters"):
        writeup.html(sour, **{field: "x" * (most + 1)})


def test_a_picture_costs_no_more_than_in_our_own_process(sour, tmp_path):
    # Twice the picture was drawn and the chart written out; once each is enough, the process apart included.
    asked = []
    draw = painter.Painter.draw
    pictures._drawn.cache_clear()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(painter.Painter, "draw", lambda self, spec: asked.append(json.loads(spec)) or draw(self, spec))
        bench_panel.write_up(sour, tmp_path)
    assert len(asked) == 1
