"""Two savers of one file, a long file, a linked one: no row that a person made is lost."""

import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from drinklab import files, own, pantry
from drinklab.errors import InputError

PLUM = own.row("plum shrub", "syrup", "0", "400", acid="12", allergens="none")
# Says when it is ready and waits, so that both savers start at once.
SAVER = """
import sys
from drinklab import files, own
if sys.argv[3] == "plain":
    files.fcntl = None
rows = [own.row(f"{sys.argv[2]} {n}", "syrup", "0", "400", acid="12", allergens="none") for n in range(12)]
print("ready", flush=True)
sys.stdin.readline()
for row in rows:
    own.write(sys.argv[1], row)
"""


@pytest.mark.parametrize("lock", ["system", "plain"])
def test_two_processes_lose_no_row(lock, tmp_path):
    savers = [
        subprocess.Popen([sys.executable, "-c", SAVER, tmp_path, name, lock], stdin=-1, stdout=-1, text=True)
        for name in ("plum", "fig")
    ]
    for saver in savers:
        assert saver.stdout.readline() == "ready\n"
    for saver in savers:
        saver.stdin.write("go\n")
        saver.stdin.flush()
    for saver in savers:
        saver.communicate(timeout=120)
        assert saver.returncode == 0
    shelf = pantry.load(tmp_path)
    assert all(shelf.find(f"{name} {n}").acid == 12 for name in ("plum", "fig") for n in range(12))
    assert [path.name for path in tmp_path.iterdir()] == ["my_ingredients.csv"]


@pytest.mark.parametrize("lock", ["system", "plain"])
def test_one_waits_for_another_and_says_so_in_the_end(lock, tmp_path, monkeypatch):
    if lock == "plain":
        monkeypatch.setattr(files, "fcntl", None)
    path = tmp_path / "my_ingredients.csv"
    with files.alone(path), pytest.raises(InputError, match="held by another page"), files.alone(path, wait=0.1):
        pass
    done = []
    with files.alone(path):
        other = threading.Thread(target=lambda: (own.write(tmp_path, PLUM), done.append(1)))
        other.start()
        time.sleep(0.3)
        assert not done
    other.join(10)
    assert done


def test_the_lock_of_a_killed_saver_is_taken_away(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "fcntl", None)
    monkeypatch.setattr(files, "_STALE", -1.0)
    (tmp_path / ".saving-my_ingredients.csv.lock").touch()
    own.write(tmp_path, PLUM)
    assert [path.name for path in tmp_path.iterdir()] == ["my_ingredients.csv"]


def test_a_linked_file_is_written_through(tmp_path):
    target = tmp_path / "kept" / "bottles.csv"
    target.parent.mkdir()
    bar = tmp_path / "bar"
    bar.mkdir()
    link = bar / "my_ingredients.csv"
    link.symlink_to(target)  # at first it leads nowhere
    for name in ("plum shrub", "fig shrub"):
        assert own.write(bar, own.row(name, "syrup", "0", "400", acid="12", allergens="none")) == link
    assert link.is_symlink()
    assert Path(link).resolve() == target
    assert "fig shrub" in target.read_text()
    assert pantry.load(bar).find("plum shrub").acid == 12


def test_a_row_more_is_no_second_look_at_all_others(tmp_path, monkeypatch):
    """The file was checked twice in full, once as it was and once as it would be."""
    path = own.write(tmp_path, PLUM)
    header, row = path.read_text().splitlines()
    more = [row.replace("own_plum_shrub", f"own_b{n}").replace("plum shrub", f"bottle {n}") for n in range(300)]
    path.write_text("\n".join([header, row, *more]) + "\n")
    looked, look = [], pantry._ingredient
    monkeypatch.setattr(pantry, "_ingredient", lambda *given, **more: looked.append(1) or look(*given, **more))
    own.write(tmp_path, own.row("fig shrub", "syrup", "0", "400", acid="12", allergens="none"))
    assert len(looked) == 301 + 1
    with pytest.raises(InputError, match="another, since my_ingredients"):
        own.write(tmp_path, own.row("bottle 7", "syrup", "0", "400", acid="12", allergens="none"))
    shelf = pantry.load(tmp_path)
    assert (shelf.find("bottle 7").acid, shelf.find("fig shrub").acid) == (12, 12)


def test_a_pantry_of_many_own_ingredients_takes_as_long_a_row_as_one_of_few():
    """30 000 rows took two thirds of a minute to open: for each, all their names were gathered anew."""
    gin = pantry.load()["gin"]
    own_gins = [replace(gin, id=f"own_b{n}", name=f"bottle {n}") for n in range(16_000)]
    spent = []
    for many in (2_000, 16_000):
        start = time.process_time()
        pantry.load().with_items(own_gins[:many])
        spent.append(time.process_time() - start)
    assert spent[1] < 24 * spent[0]  # 8 times as many; it was 60 times as long
