"""Files of a working folder: read without surprises, written whole or not at all, never one over another.

>>> import tempfile
>>> folder = Path(tempfile.mkdtemp())
>>> [write_new(folder, "drink", {".md": "Clear Line"})[0].name for _ in range(2)]
['drink_01.md', 'drink_02.md']
"""

from __future__ import annotations

import contextlib
import functools
import itertools
import os
import re
import secrets
import stat
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import IO, Any

from .errors import InputError, Told

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

WORKING_FOLDER = "~/drinklab-bench"  # where work is kept if nobody says otherwise
EXPORTS = "exports"  # in it: what is for other programs
# A write-up with its charts has 1 MB. [bytes]
MOST = 20_000_000
_DEAD = 86_400.0  # a save takes seconds, so what is a day old is of one that was killed [s]
_STALE = 120.0  # a lock file that is older is of one that was killed [s]
_SAVING = ".saving-"
_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NONBLOCK", 0)  # no pipe is waited for
# What Windows keeps for itself, and what it has in no name ("Naming Files, Paths, and Namespaces", Microsoft).
_DEVICE = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3]|con(in|out)\$) *(\..*)?", re.IGNORECASE)
_IN_NO_NAME = re.compile(r'[<>:"/\\|?*\x00-\x1f]|[. ]$')
WINDOWS = os.name == "nt"
_DIGITS = 9  # of a running number that counts; a longer one is a name of someone else's
_LEFTOVER = re.compile(re.escape(_SAVING) + r"(\w{8}|.+_\d+(\.\w+)?\.(json|html|md|csv|zip|jpg|png))")


def is_there(path: str | Path) -> bool:
    """Whether something has this name. What cannot be looked at counts too, so that reading it says what is wrong.

    >>> is_there("no such file"), is_there("/" + "x" * 300)
    (False, True)
    """
    try:
        Path(path).stat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError:
        return True
    return True


def can_be_named(name: str, windows: bool = WINDOWS) -> bool:
    """Whether a file can have this name here; whether it can have it on Windows too.

    >>> can_be_named("nul.json", windows=True), can_be_named("null.json", windows=True)
    (False, True)
    """
    return not windows or not (_DEVICE.fullmatch(name) or _IN_NO_NAME.search(name))


def read(path: str | Path, what: str, allowed: str, most: int = MOST) -> bytes:
    """What a file holds; a folder, a pipe, a device or a very large file is refused before it is opened.

    Parameters
    ----------
    path : path
    what, allowed : str
        Its name, and what it ought to be, for the error sentence.
    most : int
        How large it may be. [bytes]

    Raises
    ------
    OSError
        If it is not there, or cannot be read.
    InputError
        If it is no file, or too large.

    Examples
    --------
    >>> read("/dev/zero", "saved trial", "a file that Drinklab wrote")
    Traceback (most recent call last):
    drinklab.errors.InputError: zero: saved trial is not a file; it must be a file that Drinklab wrote.
    """
    path = Path(path)
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise InputError(what, Told("not a file"), allowed, path.name)
    if found.st_size <= most:
        with open(path, "rb", opener=_without_waiting) as file:
            held = file.read(found.st_size + 1)  # a read takes room for all that it might be
            if len(held) > found.st_size:  # some files of the system hold more than they say
                held += file.read(most + 1 - len(held))
        if len(held) <= most:
            return held
        size = Told("larger than it says")
    else:
        size = Told(f"{found.st_size / 1e6:,.0f} MB large")
    raise InputError(what, size, f"at most {most / 1e6:.0f} MB", path.name)


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_text(path: str | Path, what: str) -> str:
    """The text of a file that Drinklab wrote.

    Raises
    ------
    InputError
        In one sentence that names the file, if it is not there or no text.
    """
    path, allowed = Path(path), "UTF-8 text as Drinklab writes it"
    try:
        return read(path, what, allowed).decode("utf-8").replace("\r\n", "\n")
    except FileNotFoundError:
        raise InputError(what, path.name, "a file that is there") from None
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(what, "not readable as text", allowed, path.name) from None


def write_new(
    folder: str | Path, stem: str, texts: Mapping[str, str | bytes | Callable[[str], str | bytes]]
) -> list[Path]:
    """Write texts (or bytes) as new files of one name, `stem` and a running number, each with its suffix.

    A text that names its own file is a function of that name, less its suffix. Never overwrites, and the files are
    there whole or not at all, also on a full disk.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        last, left = _last_numbers(folder)
        number = last.get(stem, 0)
        while True:
            number += 1
            try:
                name = f"{stem}_{number:02d}"
                made = {suffix: text(name) if callable(text) else text for suffix, text in texts.items()}
                paths = _write_all({folder / f"{name}{suffix}": text for suffix, text in made.items()})
            except FileExistsError:  # someone else took the number meanwhile
                _SEEN.pop(folder, None)
                last, left = _last_numbers(folder)
                number = max(number, last.get(stem, 0))
            else:
                last[stem] = number
                _SEEN[folder] = _stamp(folder), last, left
                return paths
    except OSError as error:
        raise _unwritable(folder, error) from None


_NUMBERED = re.compile(rf"_([0-9]{{1,{_DIGITS}}})\.(?=.)")
# By folder, as long as nobody else writes there: its stamp, the last number of each name, and what savers left or are
# at. To list it for each of thousands of files takes the square of their count. A number taken meanwhile is refused.
_SEEN: dict[Path, tuple[tuple[int, int], dict[str, int], list[str]]] = {}


def _stamp(folder: Path) -> tuple[int, int]:
    return (found := folder.stat()).st_ino, found.st_mtime_ns


def _last_numbers(folder: Path) -> tuple[dict[str, int], list[str]]:
    """The last number of each name in a folder, and names of unfinished files: of those, what is old is taken away."""
    stamp, seen = _stamp(folder), _SEEN.get(folder)
    if seen is not None and seen[0] == stamp:
        _sweep(folder, seen[2])
        return seen[1:]
    last: dict[str, int] = {}
    names = os.listdir(folder)
    left = [name for name in names if name.startswith(_SAVING)]
    _sweep(folder, left)
    for name in names:
        for found in _NUMBERED.finditer(name):
            stem = name[: found.start()]
            last[stem] = max(last.get(stem, 0), int(found[1]))
    if len(_SEEN) > 8:
        _SEEN.clear()
    _SEEN[folder] = stamp, last, left
    return last, left


def write_named(path: str | Path, held: bytes, *, settle: bool = True) -> bool:
    """Write a new file of exactly this name, whole or not at all; False, and nothing done, where the name is taken.

    Who writes many leaves out to `settle` the folder with each, and does so at the end (`settled`).

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    path = Path(path)
    try:
        if os.path.lexists(path):
            return False
        path.parent.mkdir(parents=True, exist_ok=True)
        name = path.with_name(f"{_SAVING}{secrets.token_hex(4)}")
        try:
            with name.open("xb") as file:
                _fill(file, held)
            try:
                os.link(name, path)
            except FileExistsError:
                raise
            except OSError:  # a disk without links: another saver could take the name between the look and the move
                with alone(path):
                    _publish(name, path)
        except FileExistsError:
            return False
        finally:
            name.unlink(missing_ok=True)
        if settle:
            settled(path.parent)
    except OSError as error:
        raise _unwritable(path.parent, error) from None
    return True


def beside_name(name: str, number: int) -> str:
    """What a file is called that comes back from a backup where another has its name.

    >>> beside_name("sour_01.json", 2), first_name("sour_01.restored-2.json")
    ('sour_01.restored-2.json', 'sour_01.json')
    """
    return f"{Path(name).stem}.restored-{number}{Path(name).suffix}"


def first_name(name: str) -> str:
    """The name of a file before it came back beside another."""
    return re.sub(r"(\.restored-\d+)+(?=\.\w+$)", "", name)


def write_beside(path: str | Path, suffix: str, held: bytes) -> Path:
    """Write a new file beside another, of its name with another suffix; a number behind it where that is taken.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    path = Path(path)
    for number in itertools.count(1):
        new = path.with_name(f"{path.stem}{f'_{number:02d}' if number > 1 else ''}{suffix}")
        if write_named(new, held):
            break
    return new


def numbered(folder: str | Path, stem: str, suffix: str) -> list[Path]:
    """What `write_new` has written under a name, the oldest first; what came back beside one stands before that.

    >>> numbered("no such folder", "my_ice", ".json")
    []
    """
    try:
        names = os.listdir(folder)
    except OSError:
        return []
    of = re.compile(rf"{re.escape(stem)}_(?:.*_)?([0-9]+)((?:\.restored-[0-9]+)*){re.escape(suffix)}", re.DOTALL)
    return [Path(folder) / n for *_, n in sorted((int(m[1]), not m[2], m[0]) for m in map(of.fullmatch, names) if m)]


def listed(folder: str | Path, suffix: str | tuple[str, ...], what: str, begins: str = "") -> list[Path]:
    """The files of a folder of that beginning and suffix, the last by name first; none where there is no folder.

    Raises
    ------
    InputError
        Naming `what`, if the folder cannot be read.
    """
    try:
        names = os.listdir(folder)
    except FileNotFoundError:
        return []
    except OSError as error:
        raise InputError(what, error.strerror or str(error), "one that can be read", Path(folder).name) from None
    ours = (n for n in names if n.startswith(begins) and n.endswith(suffix) and n[0] != ".")
    return [Path(folder) / n for n in sorted(ours, reverse=True)]


def newest(folder: str | Path, suffix: str, what: str) -> list[Path]:
    """The files of a folder with a suffix, the last written first; what is no file, or leads nowhere, is left out.

    Raises
    ------
    InputError
        As for `listed`.
    """
    found = []
    for path in listed(folder, suffix, what):
        with contextlib.suppress(OSError):
            seen = path.stat()
            if stat.S_ISREG(seen.st_mode):
                found.append((seen.st_mtime, path))
    return [path for _, path in sorted(found, reverse=True)]


def write_over(path: str | Path, text: str, *, keep: bool = False, through: bool = True) -> Path:
    """Write a file anew; the old one stands until the new one is whole, and who may use it stays as it was.

    Parameters
    ----------
    path : path
        Where it is a link, what it leads to is written.
    text : str
    keep : bool
        Whether the old one stays, under another name.
    through : bool
        Whether a link is written through; else it gives way itself, and what it leads to stays.

    Raises
    ------
    InputError
        If the folder cannot be written to, the file is read-only or a link that leads nowhere, or it would be larger
        than what is read (`MOST`); all is then as it was.
    """
    path = target = Path(path)
    if (size := len(text.encode(errors="replace"))) > MOST:  # `read` would not open it again
        raise InputError("file", Told(f"{size / 1e6:,.1f} MB large"), f"at most {MOST / 1e6:.0f} MB", path.name)
    try:
        target = _led_to(path) if through else path
        target.parent.mkdir(parents=True, exist_ok=True)
        mode = None if target.is_symlink() else _mode(target)
        _sweep(target.parent, os.listdir(target.parent))
        name = target.with_name(f"{_SAVING}{secrets.token_hex(4)}")
        try:
            with name.open("xb") as file:
                _fill(file, text)
            if mode is not None and mode != stat.S_IMODE(name.stat().st_mode):
                os.chmod(name, mode)
            aside = _set_aside(target) if keep and os.path.lexists(target) else None
            try:
                os.replace(name, target)
            except OSError:
                if aside:
                    _put_back(aside, target)
                raise
        except BaseException:
            name.unlink(missing_ok=True)
            raise
        settled(target.parent)
    except OSError as error:
        raise _unwritable(target.parent, error) from None
    return path


def _led_to(path: Path) -> Path:
    """The file that a link leads to, there or still to be made; any other path as it is.

    A link to what is no file (a folder, a pipe, a device) is itself what gives way: what it leads to is never touched.
    """
    if not path.is_symlink():
        return path
    target = Path(os.path.realpath(path))
    if target.exists():
        return target if target.is_file() else path
    if target.is_symlink() or not target.parent.is_dir():  # a ring of links, or a folder that is not there
        raise link_to_nothing(path)
    return target


def link_to_nothing(path: Path) -> InputError:
    """That a link leads nowhere.

    >>> print(link_to_nothing(Path("in_hand.json")))
    in_hand.json is a link to what is not there; it must be a file, or taken away.
    """
    return InputError(path.name, Told("a link to what is not there"), "a file, or taken away")


def _mode(path: Path) -> int | None:
    """Who may use a file, to be kept; None where there is none yet."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    # The bits too: a superuser may write whatever they say.
    if stat.S_ISREG(found.st_mode) and not (found.st_mode & 0o222 and os.access(path, os.W_OK)):
        raise InputError(path.name, Told("read-only"), "a file that you may write to")
    return stat.S_IMODE(found.st_mode) if stat.S_ISREG(found.st_mode) else None


@contextlib.contextmanager
def alone(path: str | Path, wait: float = 20.0) -> Iterator[None]:
    """Hold a file while it is read and written anew, against every other process and thread that asks so too.

    Parameters
    ----------
    path : path
        The file, or a link to it; it need not be there yet, its folder is made if missing.
    wait : float
        How long to wait for one who holds it. [s]

    Raises
    ------
    InputError
        If it is still held then, or the folder cannot be written to.
    """
    path = Path(path)
    until = time.monotonic() + wait
    try:
        path = _led_to(path)
        lock = path.with_name(f"{_SAVING}{path.name}.lock")
        path.parent.mkdir(parents=True, exist_ok=True)
        while (let_go := _locked(lock)) is None:
            if time.monotonic() > until:
                raise InputError("file", Told("held by another page"), "free; try again in a moment", path.name)
            time.sleep(0.02)
    except OSError as error:
        raise _unwritable(path.parent, error) from None
    try:
        yield
    finally:
        let_go()


def _locked(lock: Path) -> Callable[[], None] | None:
    """How to let go of a lock that is now ours; None where another holds it.

    The system lets go of a lock on the folder itself when its holder ends, however it ends, and leaves no file. Where
    there is no such lock (Windows, some network disks), a file that only one can make stands for it.
    """
    try:
        handle = os.open(lock.parent, _FOLDER) if fcntl is not None else None
    except OSError:
        handle = None  # a folder that can be written to and not read
    if handle is not None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return functools.partial(os.close, handle)
        except BlockingIOError:
            os.close(handle)
            return None
        except OSError:
            os.close(handle)
    mine = secrets.token_hex(8)
    if _taken(lock, mine):
        return functools.partial(_let_go, lock, mine)
    if _is_stale(lock):
        # One at a time looks again and takes it away: else the second would take away what the first has just made.
        taking = lock.with_suffix(".taking")
        if _taken(taking, mine):
            try:
                if _is_stale(lock):
                    lock.unlink(missing_ok=True)
            finally:
                taking.unlink(missing_ok=True)
        elif _is_stale(taking):
            taking.unlink(missing_ok=True)
    return None


def _taken(lock: Path, mine: str) -> bool:
    """Whether a lock file could be made."""
    try:
        with lock.open("x", encoding="ascii") as file:
            try:
                file.write(mine)
                file.flush()
            except BaseException:  # a full disk
                lock.unlink()
                raise
    except FileExistsError:
        return False
    except PermissionError:
        if not os.path.lexists(lock):
            raise
        return False  # on Windows: one that is just being taken away
    return True


def _is_stale(lock: Path) -> bool:
    with contextlib.suppress(OSError):
        return time.time() - lock.stat().st_mtime > _STALE
    return False


def _let_go(lock: Path, mine: str) -> None:
    """Take our lock away, unless it was given up for dead meanwhile and is another's now."""
    with contextlib.suppress(OSError):
        if lock.read_text(encoding="ascii") == mine:
            lock.unlink()


def _write_all(texts: Mapping[Path, str | bytes]) -> list[Path]:
    """All of these new files, or none."""
    claims, made = [], []
    try:
        for path, text in texts.items():
            claims.append(_claim(path, text))
        for path in texts:
            linked = _publish(claims[0], path)
            made.append(path)
            claim = claims.pop(0)
            if linked:  # once moved, the claim's name may be another saver's
                with contextlib.suppress(OSError):
                    claim.unlink()
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        raise
    finally:
        for claim in claims:
            with contextlib.suppress(OSError):
                claim.unlink()
    settled(made[0].parent)
    return made


def _claim(path: Path, text: str | bytes) -> Path:
    """The text in full under a name that no other saver of `path` can have."""
    claim = path.with_name(_SAVING + path.name)
    file = claim.open("xb")
    try:
        with file:
            _fill(file, text)
    except BaseException:
        claim.unlink(missing_ok=True)
        raise
    return claim


def _fill(file: IO[Any], text: str | bytes) -> None:
    file.write(text if isinstance(text, bytes) else text.encode("utf-8", errors="replace"))
    file.flush()
    os.fsync(file.fileno())


def _publish(source: Path, target: Path) -> bool:
    """Give a file its name, unless that is taken; whether it still has the other name too."""
    try:
        os.link(source, target)
        return True
    except FileExistsError:
        raise
    except OSError:
        # A disk without links (some memory sticks). Nobody of us takes the name meanwhile: `source` is our claim.
        if os.path.lexists(target):
            raise FileExistsError(target) from None
        os.rename(source, target)
        return False


def _set_aside(path: Path) -> Path:
    number = 1
    while True:
        aside = path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")
        try:
            _publish(path, aside)
            return aside
        except FileExistsError:
            number += 1


def _put_back(aside: Path, path: Path) -> None:
    if not os.path.lexists(path):
        os.rename(aside, path)
    elif os.path.samefile(aside, path):
        aside.unlink()


def _sweep(folder: Path, names: Iterable[str]) -> None:
    """Take away what killed savers left, of the names in a folder."""
    for path in (folder / name for name in names if name.startswith(_SAVING)):
        with contextlib.suppress(OSError):
            found = path.lstat()
            if _LEFTOVER.fullmatch(path.name) and stat.S_ISREG(found.st_mode) and time.time() - found.st_mtime > _DEAD:
                path.unlink()


def settled(folder: Path) -> None:
    """Have the disk keep the new names too, where it can be asked to."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, _FOLDER)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _unwritable(folder: Path, error: OSError) -> InputError:
    return InputError("working folder", f"{folder.name!r} ({error.strerror or error})", "one that can be written to")
