"""Attacks on saving: full disks, disks without links, kills, savers at once. Nothing saved is ever lost or half there."""

import errno
import json
import os
import random
import signal
import stat
import subprocess
import time
from pathlib import Path

import pytest

from drinklab import files, logbook, writeup
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.trial import run

# DRINKLAB_LONG=1 runs the long profile.
KILLS = 200 if os.environ.get("DRINKLAB_LONG") else 40


@pytest.fixture(scope="module")
def trial():
    return run(Recipe.parse("40 mL gin\n20 mL dry vermouth", name="Clear Line"), draws=0)


@pytest.fixture(params=["links", "no links"])
def links(request, monkeypatch):
    """A disk with hard links, and one without (some memory sticks)."""
    if request.param == "no links":
        monkeypatch.setattr(os, "link", refuse)
    return request.param == "links"


def refuse(*_, **__):
    raise OSError(errno.EPERM, "no links here")


def seen(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


class Full:
    """A disk that is full from the n-th call on that could need room; names are taken from `files` and `os`."""

    def __init__(self, patch, after):
        self.left = after
        fill = files._fill

        def write(file, text):
            self._room()
            file.write(text.encode()[: len(text) // 2])  # half of it went down
            file.seek(0)
            self._room()
            fill(file, text)

        patch.setattr(files, "_fill", write)
        for name in ("link", "rename", "replace", "fsync"):
            real = getattr(os, name)
            patch.setattr(os, name, lambda *a, real=real: (self._room(), real(*a))[1])

    def _room(self):
        self.left -= 1
        if self.left < 0:
            raise OSError(errno.ENOSPC, "No space left on device")


def tried(act):
    try:
        return act(), ""
    except InputError as problem:
        return [], str(problem)


def act(what, trial, folder):
    if what == "trial":
        return [logbook.save(trial, folder)]
    if what == "write-up":
        return list(writeup.save(trial, folder))
    return [logbook.save_choices(folder, temperature="°F")]


@pytest.mark.parametrize("before", ["nothing", "good", "damaged"])
@pytest.mark.parametrize("what", ["trial", "write-up", "choices"])
def test_a_disk_that_fills_at_any_moment_changes_nothing(what, before, links, trial, tmp_path):
    choices = tmp_path / logbook.CHOICES
    choices.write_text({"nothing": '{"volume": "mL"}', "good": '{"volume": "oz"}', "damaged": '{"volume": "oz'}[before])
    if before == "nothing":
        choices.unlink()
    act("trial", trial, tmp_path), act("write-up", trial, tmp_path)
    kept, failures = seen(tmp_path), 0
    for after in range(30):
        with pytest.MonkeyPatch.context() as patch:
            Full(patch, after)
            made, problem = tried(lambda: act(what, trial, tmp_path))
        if not problem:
            break
        assert "working folder" in problem
        assert "No space left" in problem
        failures += 1
        # Without links, and with nothing to be renamed any more, a damaged file may end under its other name.
        assert sorted(seen(tmp_path).values()) == sorted(kept.values()), after
        if links or before != "damaged":
            assert seen(tmp_path) == kept, after
    else:
        pytest.fail("it was never saved")
    assert failures >= 3
    now = seen(tmp_path)
    if what == "choices":
        assert logbook.choices(tmp_path)["temperature"] == "°F"
        if before == "damaged":
            assert now["my_choices.damaged-1.json"] == kept[logbook.CHOICES]
    else:
        assert all(now[name] == text for name, text in kept.items())
    assert set(now) - set(kept) <= {*(str(p.relative_to(tmp_path)) for p in made), "my_choices.damaged-1.json"}
    if what == "trial":
        assert logbook.load(made[0]).recipe == trial.recipe


@pytest.fixture
def small_disk(tmp_path):
    """A real disk of 128 kB, for those who may mount one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", disk], capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_a_real_small_disk_filled_to_the_brim(small_disk, links, trial):
    (small_disk / logbook.CHOICES).write_text('{"volume": "oz')
    saved, refused = [], 0
    while refused < 3:
        path, problem = tried(lambda: logbook.save(trial, small_disk))
        if problem:
            assert "No space left" in problem
            refused += 1
        else:
            saved.append(path)
    subprocess.run(["dd", "if=/dev/zero", f"of={small_disk / 'filler'}", "bs=512"], capture_output=True)
    for attempt in (logbook.save, writeup.save):
        with pytest.raises(InputError, match="No space left"):
            attempt(trial, small_disk)
    with pytest.raises(InputError, match="No space left"):
        logbook.save_choices(small_disk, tool="scale")
    assert (small_disk / logbook.CHOICES).read_text() == '{"volume": "oz'
    assert len(saved) > 3
    names = {p.name for p in small_disk.rglob("*") if p.is_file()}
    assert names == {p.name for p in saved} | {logbook.CHOICES, "filler"}
    entries, problems = logbook.entries(small_disk)
    assert (len(entries), problems) == (len(saved), ())
    (small_disk / "filler").unlink()
    logbook.save_choices(small_disk, tool="scale")
    assert (small_disk / "my_choices.damaged-1.json").read_text() == '{"volume": "oz'


def forked(act):
    """The number of a process that does `act` and never comes back from it."""
    child = os.fork()
    if not child:
        try:
            act()
        finally:
            os._exit(0)
    return child


def pages(tag):
    text = json.dumps({"tag": tag, "text": "x" * 60_000, "end": True})
    return {".html": text, ".md": text}


def whole(folder):
    """What is there under final names, all of it whole, by number."""
    found = {}
    for path in folder.glob("day_*.*"):
        data = json.loads(path.read_text())
        assert data["end"] is True
        assert len(data["text"]) == 60_000
        found.setdefault(path.stem, {})[path.suffix] = data["tag"]
    return found


def test_kills_at_any_moment(links, tmp_path):
    luck = random.Random(10)
    logbook.save_choices(tmp_path, volume="oz")

    def savings(tag):
        for _ in range(1000):
            files.write_new(tmp_path, "day", pages(tag))
            logbook.save_choices(tmp_path, tool=luck.choice(["scale", "jigger"]))

    start = time.monotonic()
    os.waitpid(forked(lambda: files.write_new(tmp_path, "day", pages("first"))), 0)
    one_save = time.monotonic() - start  # by a process of its own, as below, however busy the machine

    kept = {}
    for tag in range(KILLS):
        child = forked(lambda tag=tag: savings(tag))
        time.sleep(luck.uniform(0, min(3 * one_save, 0.1) + 0.005))
        os.kill(child, signal.SIGKILL)
        assert os.waitpid(child, 0)[1] == signal.SIGKILL
        now = whole(tmp_path)
        for stem, parts in kept.items():
            assert now[stem].items() >= parts.items(), "what was saved is gone, or another's"
        kept = now
        assert logbook.choices(tmp_path)["volume"] == "oz"
    assert len(kept) > KILLS / 10
    # A page of a kill between the two is whole but alone; none holds two savers' parts.
    assert all(len(set(parts.values())) == 1 for parts in kept.values())

    orphans = [p for p in tmp_path.iterdir() if p.name.startswith(".saving-")]
    files.write_new(tmp_path, "day", pages("young"))
    assert all(p.exists() for p in orphans), "they might still be at it"
    for path in orphans:
        os.utime(path, (time.time() - 90_000,) * 2)
    files.write_new(tmp_path, "day", pages("old"))
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".saving-")]


@pytest.mark.parametrize("digits", [10, 240])
def test_a_long_number_of_someone_elses_does_not_keep_a_save_from_its_name(digits, tmp_path):
    (tmp_path / f"day_{'9' * digits}.json").write_text("{}")
    (tmp_path / "day_07.json").write_text("{}")
    assert [p.name for p in files.write_new(tmp_path, "day", {".json": "{}"})] == ["day_08.json"]
    (tmp_path / "day_999999999.json").write_text("{}")
    made = [files.write_new(tmp_path, "day", {".json": "{}"})[0].name for _ in range(2)]
    assert made == ["day_1000000000.json", "day_1000000001.json"]


def test_savers_at_once_lose_nothing(links, tmp_path):
    def savings(tag):
        for _ in range(20):
            files.write_new(tmp_path, "day", pages(tag))
            logbook.save_choices(tmp_path, volume="oz")

    children = [forked(lambda tag=tag: savings(tag)) for tag in range(4)]
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 4
    found = whole(tmp_path)
    assert len(found) == 80
    tags = [set(parts.values()) for parts in found.values()]
    assert all(len(tag) == 1 for tag in tags)
    assert sorted(tag.pop() for tag in tags) == sorted(list(range(4)) * 20)
    assert all(set(parts) == {".html", ".md"} for parts in found.values())
    assert logbook.choices(tmp_path)["volume"] == "oz"
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".saving-")]


def test_only_what_is_surely_ours_and_dead_is_swept(tmp_path):
    old = time.time() - 90_000
    ours = [".saving-x2_b4k9z", ".saving-2025-06-01_clear-line_01.json", ".saving-2025-06-01_clear-line_01.html"]
    theirs = [".saving-for-later.txt", ".saving-notes", "saving-x2_b4k9z"]
    for name in ours + theirs:
        (tmp_path / name).write_text("x")
        os.utime(tmp_path / name, (old, old))
    (tmp_path / ".saving-12345678").mkdir()
    os.utime(tmp_path / ".saving-12345678", (old, old))
    files.write_new(tmp_path, "day", {".md": "x"})
    assert {p.name for p in tmp_path.iterdir()} == {*theirs, ".saving-12345678", "day_01.md"}


def _device(folder: Path) -> Path:
    """A device without end: one of the folder's own where this may make one, so that no mistake hits the system's."""
    own = folder / "zero"
    try:
        if not own.exists():
            os.mknod(own, 0o666 | stat.S_IFCHR, os.makedev(1, 5))
    except OSError:
        return Path("/dev/zero")
    return own


@pytest.mark.parametrize("sort", ["pipe", "folder", "device", "large", "dangling"])
def test_what_is_no_file_never_holds_up_the_list(trial, tmp_path, sort):
    good = logbook.save(trial, tmp_path)
    targets = [tmp_path / "trials" / "odd.json", tmp_path / logbook.CHOICES, tmp_path / "page.html"]
    for path in targets:
        if sort == "pipe":
            os.mkfifo(path)
        elif sort == "folder":
            path.mkdir()
        elif sort == "large":
            with path.open("wb") as file:
                file.truncate(files.MOST + 1)
        else:
            path.symlink_to(_device(tmp_path) if sort == "device" else "nowhere")
    signal.alarm(20)  # a pipe without a writer would be waited for without end
    try:
        entries, problems = logbook.entries(tmp_path)
        assert [e.path for e in entries] == [good]
        assert len(problems) == 1
        assert "odd.json" in problems[0]
        with pytest.raises(InputError, match=r"my_choices\.json"):
            logbook.choices(tmp_path)
        assert logbook.load(good).recipe == trial.recipe
        for reader in (writeup.read, writeup.rerun):
            with pytest.raises(InputError, match=r"page\.html"):
                reader(tmp_path / "page.html")
        logbook.save_choices(tmp_path, volume="oz")
        assert logbook.choices(tmp_path)["volume"] == "oz"
        # What a link will lead to is written there; what is no file gives way to one.
        assert os.path.lexists(tmp_path / "my_choices.damaged-1.json") == (sort != "dangling")
        if sort == "device":
            assert stat.S_ISCHR((tmp_path / "my_choices.damaged-1.json").stat().st_mode)
    finally:
        signal.alarm(0)


@pytest.mark.parametrize("name", ["bench", "prep", "jelly"])
def test_a_full_disk_behind_a_choice_is_a_sentence(name, tmp_path, monkeypatch):
    from drinklab.workbook.panels import bench as bench_panel
    from drinklab.workbook.panels import gels as gels_panel
    from drinklab.workbook.panels import prep as prep_panel

    panel = {"bench": bench_panel.panel, "prep": prep_panel.panel, "jelly": gels_panel.panel}[name](tmp_path)
    Full(monkeypatch, 0)
    panel.volume_unit.value = "oz"
    assert "No space left" in str(panel.said.value)
    assert panel.volume_unit.value == "oz"
    assert not (tmp_path / logbook.CHOICES).exists()
    monkeypatch.undo()
    panel.volume_unit.value = "mL"
    assert logbook.choices(tmp_path)["volume"] == "mL"
