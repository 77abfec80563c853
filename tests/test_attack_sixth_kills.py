"""A sixth attack: several processes that save at once, all killed in the same moment (their process group), many times."""

import json
import os
import random
import select
import signal
import time

import pytest
from long_run import LONG

from drinklab import cost, files, logbook, pantry, trial
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.teach import progress

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="process groups")
SHELF = pantry.load()
DRINK = trial.run(Recipe.parse("60 mL gin, 40 %\n30 mL lime juice", name="Salt"), pantry=SHELF, draws=0)
NAMES = ("gin", "lime juice", "pisco")


def _saves(folder, told: int, tag: str) -> None:
    """Save without end, and tell of each save when it is done."""
    chance = random.Random(tag)
    for i in range(10_000):
        name, price = chance.choice(NAMES), chance.randint(1, 9999)
        cells = {"ingredient": name, "price": str(price), "currency": "JPY", "pack": "700", "pack_unit": "mL"}
        kind = chance.choice(["answer", "answer", "price", "hand", "trial"])
        said = f"{tag}-{i}"
        if kind == "answer":
            progress.attempted(folder, "A7", "let_down", seed=i, typed=said, word="too much")
        elif kind == "price":
            cost.write(folder, cells, pantry=SHELF)
        elif kind == "hand":
            logbook.put_in_hand(folder, DRINK.setting, SHELF)
        else:
            said = logbook.save(DRINK, folder).name
        os.write(told, f"{kind} {said}\n".encode())


def _group(folder, told: int, round_: int) -> int:
    """A process that leads a group of its own, and three in it that save; its number."""
    leader = os.fork()
    if leader:
        return leader
    try:
        os.setpgid(0, 0)
        for member in range(3):
            if not os.fork():
                _saves(folder, told, f"r{round_}m{member}")
        signal.pause()
    finally:
        os._exit(1)


def test_a_whole_tree_of_processes_killed_at_once_loses_nothing(tmp_path, monkeypatch):
    chance, done = random.Random(6), {"answer": set(), "trial": set()}
    for round_ in range(120 if LONG else 6):
        heard, told = os.pipe()
        leader = _group(tmp_path, told, round_)
        os.close(told)
        select.select([heard], [], [], 30)  # until the first save of the round is done
        time.sleep(chance.uniform(0, 0.25))
        os.killpg(leader, signal.SIGKILL)
        os.waitpid(leader, 0)
        with os.fdopen(heard) as lines:  # ends when the last of the group has
            for line in lines:
                kind, said = line.split(maxsplit=1)
                done.get(kind, set()).add(said.strip())
        assert done["answer"] <= {one.typed for one in progress.open_file(tmp_path, "A7").attempts}
        trials = list((tmp_path / "trials").glob("[!.]*.json"))  # a hidden one is a claim, which a kill may leave empty
        assert done["trial"] <= {path.name for path in trials}
        assert all(json.loads(path.read_text()) for path in trials)
        if (tmp_path / cost.OWN_FILE).exists():
            assert cost.load(tmp_path, pantry=SHELF).currency == "JPY"
        assert not (tmp_path / logbook.IN_HAND).exists() or logbook.in_hand(tmp_path).setting == Setting(
            DRINK.recipe, draws=0
        )
        assert not list(tmp_path.rglob("*damaged*"))
    monkeypatch.setattr(files.time, "sleep", lambda _: pytest.fail("a lock of the dead is waited for"))
    progress.attempted(tmp_path, "A7", "let_down", seed=0, typed="after", word="right")
    assert done["answer"]
