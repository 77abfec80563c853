"""A twelfth attack: two persons who start at once, cards for guests, kept files, logs and photographs."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack

# --- two persons of one computer -------------------------------------------------------------------------------------


def test_two_persons_who_start_in_the_same_second_both_have_their_page(tmp_path, start, environment):
    """Each has a home, and so a lock, of their own; both found the same port free before one listened there."""
    homes = [tmp_path / name for name in ("ada", "bo")]
    for home in homes:
        home.mkdir()
    with ExitStack() as opened, ThreadPoolExecutor(2) as pool:
        managers = [start(home / "bar", "--no-browser", env=environment(home)) for home in homes]
        started = list(pool.map(lambda manager: manager.__enter__(), managers))
        for manager in managers:
            opened.push(manager.__exit__)
        assert all(one.address for one in started), [one.said for one in started]
        assert len({one.page for one in started}) == 2
        assert [one.ask("api/contents").status for one in started] == [200, 200]
