"""How work grows with what it is given: a ratio of two times in one run, never a time."""

from __future__ import annotations

import time
from collections.abc import Callable

TIMES = 3


def grows_less(than: float, work: Callable[[int], object], small: int, large: int) -> None:
    """The large takes less than so many times as long as the small; each up to three times, since others disturb.

    The best counts: once the large took less, more of it could change nothing.
    """

    def seconds(size: int) -> float:
        start = time.process_time()
        work(size)
        return time.process_time() - start

    least = min(seconds(small) for _ in range(TIMES))
    ratios = []
    while not ratios or (len(ratios) < TIMES and min(ratios) >= than):
        ratios.append(seconds(large) / least)
    assert min(ratios) < than, f"{large} take {ratios} times as long as {small}"
