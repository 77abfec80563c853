"""How work grows with what it is given: a ratio of two times in one run, never a time."""

from __future__ import annotations

import time
from collections.abc import Callable

TIMES = 3


def growth(work: Callable[[int], object], small: int, large: int) -> float:
    """How many times as long the large takes as the small; the best of three each, since others disturb."""
    best = {}
    for size in (small, large):
        taken = []
        for _ in range(TIMES):
            start = time.process_time()
            work(size)
            taken.append(time.process_time() - start)
        best[size] = min(taken)
    return best[large] / best[small]
