"""`drinklab share`: hand finished pages of a folder to phones in one's own network, or make them a small site."""

from __future__ import annotations

import argparse
from pathlib import Path

from .. import classics, demo, logbook, measured
from ..errors import InputError, one_of
from ..facts import Fact, say
from ..files import WORKING_FOLDER
from ..recipe import Recipe
from ..setting import Setting
from ..trial import Trial
from .pages import KINDS, Page, finished
from .serving import LOOPBACK, MOST_AT_ONCE, PORT, Sharing, own_addresses, sharing
from .site import write_site
from .trying import save_try_page

_LISTED = 40  # pages that are told one by one


def run(argv: list[str]) -> int:
    """What comes after `drinklab share`; the exit code.

    Raises
    ------
    InputError
        For a folder without finished pages, a network that is none of ours, a port that is taken.
    """
    given = _arguments(argv)
    folder = _path(given.folder, "folder", "a folder with finished pages in it")
    if given.drink is not None:
        print(f"Written: {save_try_page(_drink(given.drink, folder), folder)}")
        return 0
    pages = finished(folder)
    if not pages:
        raise InputError("folder", str(folder), f"one with finished pages in it: {', '.join(KINDS)}")
    if given.site:
        print(Fact("site written", path=str(write_site(folder))))
        return 0
    with sharing(folder, pages, given.network, None if given.port is None else _port(given.port)) as server:
        print(told(server, pages), flush=True)
        try:
            server.serve_forever(poll_interval=0.25)
        except KeyboardInterrupt:
            print(Fact("no longer shared"))
    return 0


def _path(name: str, field: str, allowed: str) -> Path:
    """A place that was typed. Empty words, as of a variable that is not set, would be the folder that one stands in."""
    try:
        if name.strip():
            return Path(name).expanduser()
    except RuntimeError:  # "~" and a user whom this system does not know
        pass
    raise InputError(field, name, allowed)


def _drink(name: str, folder: Path) -> Trial | Setting | Recipe:
    """A saved trial by its file, a drink of the demo or a classic by its name.

    >>> _drink("Daiquiri", Path("none")).name
    'Daiquiri'
    """
    shelf = measured.shelf(folder if folder.is_dir() else None)
    for path in (_path(name, "--try", "a saved trial, or the name of a drink"), folder / logbook.TRIALS / name):
        if name.endswith(".json") and path.is_file():
            saved = logbook.load(path, pantry=shelf)
            for note in logbook.told_of(path, logbook.open_saved(path, pantry=shelf), pantry=shelf):
                print(note)  # what the page shows otherwise than the trial was saved
            return saved
    demos, known = demo.settings(shelf), classics.load()
    return demos[name] if name in demos else known[one_of("--try", name, (*demos, *known.names))]


def told(server: Sharing, pages: list[Page]) -> Fact:
    """What is said before anything is handed out: what can be read, by whom, where, and how it ends."""
    lines = [
        Fact("page shared", kind=f"{KINDS[page.kind]:<13}", title=page.title, path=page.path)
        for page in pages[:_LISTED]
    ]
    if len(pages) > _LISTED:
        lines.append(Fact("more pages shared", more=len(pages) - _LISTED))
    if server.server_address[0] == LOOPBACK:
        own = own_addresses()
        network = f"{own[0].rpartition('.')[0]}.0/24" if own else "192.168.1.0/24"
        who = Fact("shared with nobody", folder=_quoted(server.folder), network=network)
    elif server.network:
        who = Fact("shared in a network", network=str(server.network), most=MOST_AT_ONCE)
    else:
        who = Fact("shared with all", most=MOST_AT_ONCE)
    return Fact("shared", folder=str(server.folder), pages=tuple(lines), url=server.url, who=who)


def _quoted(folder: Path) -> str:
    text = str(folder)
    return f'"{text}"' if " " in text else text


def _port(given: str) -> int:
    if not (given.isascii() and given.isdigit() and 1 <= int(given[:6]) <= 65535):
        raise InputError("--port", given, "a whole number, 1 to 65535")
    return int(given)


def _arguments(argv: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drinklab share",
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description=say(Fact("share command")),
        epilog=say(Fact("share command, examples")),
    )
    parser.add_argument(
        "folder", nargs="?", default=WORKING_FOLDER, help=f"with the pages in it (if not given: {WORKING_FOLDER})"
    )
    parser.add_argument("--network", metavar="NETWORK", help="your own, as 192.168.1.0/24, or your address in it")
    parser.add_argument("--port", metavar="NUMBER", help=f"of the address (if not given: {PORT}, or the next free one)")
    parser.add_argument(
        "--try", dest="drink", metavar="DRINK",
        help="write a page on which a class can change this drink (a saved trial's file, a demo, a classic), and hand "
        "nothing on",
    )  # fmt: skip
    parser.add_argument("--site", action="store_true", help="write the page that lists them all, and hand nothing on")
    return parser.parse_args(argv)
