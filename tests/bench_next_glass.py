"""How good a drink is found after 8, 12 and 20 glasses on simulated palates. Run apart: python tests/bench_next_glass.py

A hidden optimum lies somewhere about the family's middle; four tasters rate each glass from 0 to 10, each from a level
of their own, with three sizes of noise. Glasses are poured by `next_glass.choose` (three a round: safe, teaching, wild),
at random, or on a plain grid. Of the last two the best-rated glass is taken, or, "with the surface", the glass that the
same model holds best. Printed is the true liking of the drink taken, in points of 0 to 10, mean of all palates ± its
standard error; 10 is the best there is.
"""

import os
import sys
import time
from dataclasses import dataclass

os.environ.setdefault("OMP_NUM_THREADS", "1")  # small matrices: more threads only get in each other's way

import numpy as np

from drinklab.next_glass import choosing
from drinklab.next_glass import palate as palates

GLASSES, NOISES, TASTERS = (8, 12, 20), (0.5, 1.0, 2.0), 4
EDGE, POURABLE = 2.5, 200  # of what could be poured, in spreads of the family; and how many glasses are looked at


@dataclass(frozen=True)
class Hidden:
    """A palate: where its best drink is, over how many spreads liking falls, and its tasters' levels."""

    best: np.ndarray
    width: np.ndarray
    levels: np.ndarray
    ridge: np.ndarray

    @classmethod
    def drawn(cls, rng):
        turn = np.linalg.qr(rng.standard_normal((3, 3)))[0]  # a ridge may lie across the axes: sweet against sour
        return cls(rng.normal(0, 1, 3).clip(-2.2, 2.2), rng.uniform(0.9, 3.0, 3), rng.normal(0, 1, TASTERS), turn)

    def liking(self, at):
        off = ((at - self.best) @ self.ridge) / self.width
        return 10 * np.exp(-0.5 * (off**2).sum(axis=-1))

    def rated(self, at, noise, rng):
        """Of each glass, what every taster says; a scale ends at 0 and 10, the level is that of a mild or a keen person."""
        said = self.liking(at)[:, None] - 2 + self.levels + rng.normal(0, noise, (len(at), TASTERS))
        return said.clip(palates.LOW, palates.HIGH)


def pourable(rng):
    return rng.uniform(-EDGE, EDGE, (POURABLE, 3))


def told(at, said):
    return palates.Told.of(at, [(g, t, said[g, t]) for g in range(len(at)) for t in range(TASTERS)])


def ours(hidden, noise, rng, kernel=palates.smooth, most=GLASSES[-1]):
    """True liking of the drink taken after each number of glasses."""
    every, found = pourable(rng), {}
    at = np.vstack([np.zeros(3), rng.normal(0, 1, 3)])
    said = hidden.rated(at, noise, rng)
    while True:
        palate = palates.fit(told(at, said), kernel)
        chosen = choosing.choose(palate, every, TASTERS)
        if len(at) in GLASSES:
            found[len(at)] = float(hidden.liking(every[chosen.safe]))
        if len(at) >= most:
            return found
        room = min(n for n in GLASSES if n > len(at)) - len(at)
        new = every[[i for i in (chosen.teach, chosen.safe, chosen.wild) if i is not None][:room]]
        at, said = np.vstack([at, new]), np.vstack([said, hidden.rated(new, noise, rng)])


def by_list(at, hidden, noise, rng, surface=False):
    """The same for glasses that were set beforehand."""
    found, said = {}, hidden.rated(at, noise, rng)
    every = pourable(rng)
    for n in GLASSES:
        if surface:
            mean, _ = palates.fit(told(at[:n], said[:n])).at(every)
            found[n] = float(hidden.liking(every[np.argmax(mean)]))
        else:
            found[n] = float(hidden.liking(at[np.argmax(said[:n].mean(axis=1))]))
    return found


def at_random(hidden, noise, rng, surface=False):
    return by_list(rng.uniform(-EDGE, EDGE, (max(GLASSES), 3)), hidden, noise, rng, surface)


def on_a_grid(hidden, noise, rng, surface=False):
    """2 × 2 × 2, then 3 × 2 × 2, then 3 × 3 × 2 with the middle and one more; each number of glasses has a grid of its own."""
    found = {}
    for n, sizes in ((8, (2, 2, 2)), (12, (3, 2, 2)), (20, (3, 3, 2))):
        ends = [np.linspace(-EDGE, EDGE, 2 * k + 1)[1::2] for k in sizes]  # the middles of equal parts
        at = np.stack(np.meshgrid(*ends, indexing="ij"), axis=-1).reshape(-1, 3)
        at = np.vstack([at, np.zeros((n - len(at), 3))]) if len(at) < n else at
        said = hidden.rated(at, noise, rng)
        if surface:
            every = pourable(rng)
            mean, _ = palates.fit(told(at, said)).at(every)
            found[n] = float(hidden.liking(every[np.argmax(mean)]))
        else:
            found[n] = float(hidden.liking(at[np.argmax(said.mean(axis=1))]))
    return found


WAYS = {
    "next glass (Gaussian process)": ours,
    "next glass (quadratic)": lambda h, n, r: ours(h, n, r, palates.quadratic),
    "random": at_random,
    "random, with the surface": lambda h, n, r: at_random(h, n, r, True),
    "plain grid": on_a_grid,
    "plain grid, with the surface": lambda h, n, r: on_a_grid(h, n, r, True),
}


def scores(way, noise, palates_tried, seed=1):
    """True liking of the drink taken, shape (palates, numbers of glasses)."""
    out = []
    for k in range(palates_tried):
        hidden = Hidden.drawn(np.random.default_rng([seed, k]))
        found = way(hidden, noise, np.random.default_rng([seed, k, 7]))
        out.append([found[n] for n in GLASSES if n in found])
    return np.array(out)


WISHES = {
    "sour, 4 bottles": ({"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)},
                        ["aged rum, 50 %", "lemon juice", "honey syrup", "water"], "shaken", None),
    "the same, steps of 2.5 mL": ({"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)},
                                  ["aged rum, 50 %", "lemon juice", "honey syrup", "water"], "shaken", 2.5),
    "sour, 6 bottles": ({"abv": (14, 17), "sugar": (60, 90), "acid": (5, 8), "volume": (110, 140)},
                        ["gin, 40 %", "lemon juice", "sugar syrup", "orange liqueur", "pineapple juice", "water"],
                        "shaken", None),
    "stirred, 2 bottles": ({"abv": (24, 30)}, ["gin, 40 %", "dry vermouth, 18 %"], "stirred", None),
}  # fmt: skip


def of_forgiving(times=15):
    """Prints how long `most_pours` takes with the answers of `reach` known, over `reach`: the least of many of each."""
    from drinklab import pantry
    from drinklab.forgiving import most_pours
    from drinklab.reach import reach

    shelf = pantry.load()
    for name, (target, bottles, technique, measure) in WISHES.items():
        asked = {"technique": technique, "measure": measure, "tool": "jigger", "pantry": shelf}
        found, took = reach(target, bottles, **asked), {reach: [], most_pours: []}
        for _ in range(times):  # by turns, so that a busy machine is busy for both
            for work, more in ((reach, {}), (most_pours, {"found": found})):
                began = time.process_time()
                work(target, bottles, **asked, **more)
                took[work].append(time.process_time() - began)
        plain, forgiving = (1000 * min(found) for found in took.values())
        print(
            f"{name:28} reach {plain:4.0f} ms, forgiving {forgiving:4.0f} ms: {forgiving / plain:.2f} of it", flush=True
        )


if __name__ == "__main__" and sys.argv[1:] == ["forgiving"]:
    of_forgiving()
elif __name__ == "__main__":
    tried = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    print(f"True liking of the drink taken, 10 at best; {tried} palates, {TASTERS} tasters")
    print(f"{'':32}{'noise':>7}" + "".join(f"{n:>12} glasses" for n in GLASSES))
    for noise in NOISES:
        for name, way in WAYS.items():
            found = scores(way, noise, tried)
            mean, error = found.mean(axis=0), found.std(axis=0) / np.sqrt(len(found))
            row = "".join(f"{m:>12.2f} ± {e:.2f} " for m, e in zip(mean, error, strict=True))
            print(f"{name:32}{noise:>7g}{row}", flush=True)
