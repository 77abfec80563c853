"""A fifteenth attack on what is opened and saved: each found by trying, each failed before."""

from drinklab import logbook, trial
from drinklab.recipe import Recipe


def _sour(folder, ml, came_from=""):
    drink = Recipe.parse(f"{ml} mL gin\n20 mL lemon juice", technique="shaken", name="Sour")
    return logbook.save(trial.run(drink, draws=0), folder, came_from=came_from)


def _seen(folder, path):
    return next(one for one in logbook.entries(folder, in_bin=None).entries if one.path == path)


def test_a_trial_that_was_renamed_is_still_where_its_version_came_from(tmp_path):
    """The line of the drink broke at the name, and the version's reason was lost with it."""
    first = _sour(tmp_path, 50)
    version = _sour(tmp_path, 60, first.name)
    mine = first.rename(first.with_name("my best.json"))
    assert logbook.entry(version).came_from == _seen(tmp_path, version).came_from == mine.name
    line = logbook.line_of(logbook.entries(tmp_path).entries, version)
    assert [(depth, one.path) for depth, one in line] == [(0, mine), (1, version)]
    # Of two copies neither is the one that it came from.
    mine.with_name("copy.json").write_bytes(mine.read_bytes())
    assert logbook.entry(version).came_from == _seen(tmp_path, version).came_from == ""


def test_notes_of_a_trial_whose_number_alone_was_changed_are_there_when_it_is_opened(tmp_path):
    """The list had them; the trial, opened, and put in hand, had not."""
    first, other = _sour(tmp_path, 50), _sour(tmp_path, 60)
    for path, note in ((first, "too thin"), (other, "fine")):
        logbook.record(path, logbook.entry(path).time, title=note.title(), note=note)
    mine = first.rename(first.with_name(first.name.replace("_01", "_07")))
    logbook.record(mine, logbook.entry(mine).time, note="again")
    for one in (_seen(tmp_path, mine), logbook.entry(mine), logbook.open_saved(mine)):
        assert one.title == "Too Thin"
    assert logbook.entry(mine).all_notes == _seen(tmp_path, mine).all_notes == "too thin\nagain"
    assert logbook.entry(other).all_notes == _seen(tmp_path, other).all_notes == "fine"


def test_the_next_trial_of_a_renamed_one_s_name_hides_nothing_that_was_said_of_it(tmp_path):
    """Where another was saved under the name that is free again, title, notes and bin were hidden."""
    first = _sour(tmp_path, 50)
    logbook.record(first, logbook.entry(first).time, title="Keep", note="too thin")
    mine = first.rename(first.with_name("my best.json"))
    again = _sour(tmp_path, 60)
    assert again.name == first.name
    logbook.record(again, logbook.entry(again).time, note="fine")
    for one in (_seen(tmp_path, mine), logbook.entry(mine)):
        assert (one.title, one.all_notes) == ("Keep", "too thin")
    for one in (_seen(tmp_path, again), logbook.entry(again)):
        assert (one.title, one.all_notes) == ("Sour", "fine")


def test_a_changed_number_whose_old_one_was_taken_is_opened_as_it_is_listed(tmp_path):
    """The list had what was said of it; the trial, opened, had not."""
    first = _sour(tmp_path, 50)
    logbook.record(first, logbook.entry(first).time, title="Keep", note="too thin")
    mine = first.rename(first.with_name(first.name.replace("_01", "_07")))
    _sour(tmp_path, 60).rename(first)
    logbook.record(first, logbook.entry(first).time, note="fine")
    assert (logbook.entry(mine).title, logbook.entry(mine).all_notes) == ("Keep", "too thin")
    assert _seen(tmp_path, mine).all_notes == "too thin"
    assert _seen(tmp_path, first).all_notes == "fine"
