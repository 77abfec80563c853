"""The drink in hand of a folder, as pages see it: a full disk, two pages at once. Nothing a person made is lost."""

import asyncio

import pytest

from drinklab import files, logbook, pantry
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import carbonation as carbonation_panel
from drinklab.workbook.parts import hand
from drinklab.workbook.parts.hand import Hand

SHELF = pantry.load()


def drink(name, gin=60):
    return Setting(Recipe.parse(f"{gin} mL gin\n30 mL lime juice", name=name))


@pytest.fixture
def full(monkeypatch):
    """A disk that can be filled and freed again."""
    state, fill = {"full": False}, files._fill

    def filled(file, text):
        if state["full"]:
            raise OSError(28, "No space left on device")
        fill(file, text)

    monkeypatch.setattr(files, "_fill", filled)
    return state


def names(folder):
    return sorted(entry.drink for entry in logbook.entries(folder)[0])


def test_a_change_waits_for_a_full_disk_and_is_told_once(tmp_path, full, monkeypatch):
    monkeypatch.setattr(hand, "SOON", 0.01)
    told, followed = [], []

    async def page():
        full["full"] = True
        mine = Hand(tmp_path, "Bench", followed.append, told.append)
        mine.put(drink("kept"), SHELF)
        await asyncio.sleep(0.05)
        assert logbook.in_hand(tmp_path) is None
        mine.look()  # tries again, and says nothing new
        assert [type(said) for said in told] == [InputError]
        assert "No space left on device" in str(told[0])
        full["full"] = False
        mine.look()
        assert logbook.in_hand(tmp_path).setting == drink("kept")
        full["full"] = True
        mine.put(drink("kept", 50), SHELF)
        await asyncio.sleep(0.05)
        assert len(told) == 2  # another trouble is told of again
        full["full"] = False
        mine.put(drink("kept", 45), SHELF)
        await asyncio.sleep(0.05)
        assert logbook.in_hand(tmp_path).setting == drink("kept", 45)

    asyncio.run(page())
    assert not followed


def test_two_pages_within_a_moment_lose_no_drink(tmp_path):
    told = []
    one, two = (Hand(tmp_path, page, lambda held: None, told.append) for page in ("Bench", "Wash"))
    one.put(drink("first"), SHELF)
    assert not told
    two.put(drink("second"), SHELF)  # before it has looked again
    assert logbook.in_hand(tmp_path).setting == drink("second")
    assert names(tmp_path) == ["first"]
    assert "Another page has put a drink in hand at the same time" in told[-1]
    assert "kept as trials" in told[-1]
    one.look()
    one.put(drink("first", 50), SHELF)  # it has seen the other's, which the bench sets aside by itself
    assert names(tmp_path) == ["first"]


def test_the_same_drink_twice_and_ones_own_changes_are_no_race(tmp_path):
    one, two = (Hand(tmp_path, page, lambda held: None) for page in ("Bench", "Wash"))
    for gin in (60, 50, 40):
        one.put(drink("mine", gin), SHELF)
    two.put(drink("mine", 40), SHELF)
    assert names(tmp_path) == []


def test_what_overtakes_cannot_be_kept_then_nothing_is_written(tmp_path, full):
    one, two = (Hand(tmp_path, page, lambda held: None) for page in ("Bench", "Wash"))
    one.put(drink("first"), SHELF)
    full["full"] = True
    with pytest.raises(InputError, match="one that can be written to"):
        two.put(drink("second"), SHELF)
    full["full"] = False
    assert logbook.in_hand(tmp_path).setting == drink("first")
    two.keep()
    assert (logbook.in_hand(tmp_path).setting, names(tmp_path)) == (drink("second"), ["first"])


@pytest.mark.parametrize("page", [bench_panel.panel, carbonation_panel.panel])
def test_pages_show_what_is_told(page, tmp_path):
    shown = page(tmp_path)
    shown.hand._tell(InputError("working folder", "'bar' (No space left on device)", "one that can be written to"))
    assert "The drink in hand is not kept yet: the page keeps it and tries again." in shown.said.value
    shown.hand._tell("The other drink is kept as trials/x.json.")
    assert 'class="dl-done"' in shown.said.value
