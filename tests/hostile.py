"""A working folder made by somebody who wants script to run in the page: every text in it is an attempt.

The ways in: the OWASP cheat sheet on filter evasion and the HTML standard (handlers, addresses, raw-text elements,
comments), the templates of other programs, MathJax's links, expressions of the Vega charts, characters that look
like tags or turn the reading direction. `hit(n)` is what a test puts on the page to be told.
"""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

from drinklab import filtering, logbook, measured, milk, pantry, tasting, trial
from drinklab.measured import entries
from drinklab.recipe import Pour, Recipe
from drinklab.teach import progress

BATTERY = (
    "<script>hit(1)</script>",
    "<img src=x onerror=hit(2)>",
    "<svg onload=hit(3)>",
    "<svg><animate onbegin=hit(4) attributeName=x dur=1s></svg>",
    '"><img src=x onerror=hit(5)>',
    "'><img src=x onerror='hit(6)'>",
    '" onmouseover="hit(7)" autofocus onfocus="hit(7)" tabindex="1',
    "</style><img src=x onerror=hit(8)>",
    "</textarea></title></option></select><img src=x onerror=hit(9)>",
    '<iframe srcdoc="<script>parent.hit(10)</script>"></iframe>',
    '<a href="javascript:hit(11)">look</a>',
    "[look](javascript:hit(12))",
    "javascript:hit(13)",
    '{{constructor.constructor("hit(14)")()}}',
    "${hit(15)}#{hit(15)}{%hit(15)%}<%=hit(15)%>",
    "<!--><img src=x onerror=hit(16)>-->",
    "<math><mtext><table><mglyph><style><img src=x onerror=hit(17)>",
    "<details open ontoggle=hit(18)>",
    "<input autofocus onfocus=hit(19)>",
    "\uff1cimg src=x onerror=hit(20)\uff1e\ufe64img src=x onerror=hit(20)\ufe65",
    "\u2028<img src=x onerror=hit(21)>\u202e<img src=x onerror=hit(21)>\ufeff<script>hit(21)</script>",
    "&lt;img src=x onerror=hit(22)&gt;&#60;img src=x onerror=hit(23)&#62;\\u003cimg src=x onerror=hit(23)\\u003e",
    "$\\href{javascript:hit(24)}{look}$ \\(\\style{background:url(/seen)}{a}\\) $$\\require{html}\\class{x}{a}$$",
    'datum[\'"+hit(26)+"\'] "+hit(27)+" \');hit(27);//',
    "<link rel=stylesheet href=/seen><base href=/seen/><meta http-equiv=refresh content='0;url=/seen'>",
    "<object data=/seen></object><embed src=/seen><form action=javascript:hit(30)><button autofocus>x</button></form>",
    "<video><source onerror=hit(31)></video><audio src=/seen onerror=hit(31)>",
    "<xss style=animation-name:jp-x onanimationstart=hit(32) id=x tabindex=1 onfocus=hit(32)>",
    '<noscript><p title="</noscript><img src=x onerror=hit(33)>">',
    "<a href=data:text/html,<script>opener.hit(34)</script>>look</a>",
    "</script><script>hit(35)</script>",
    "<style>@import '/seen';*{background:url(/seen)}</style>",
)


def _grouped(most: int = 260) -> list[str]:
    """The battery in as few texts as fit in a name."""
    groups = [""]
    for one in BATTERY:
        if len(groups[-1]) + len(one) > most:
            groups.append("")
        groups[-1] += one
    return groups


NAMES = _grouped()
ALL = "\n".join(BATTERY)
NASTY = "<img src=x onerror=hit(2)>"


def folder(path: Path) -> Path:
    """Fill a folder with files that can be read: own ingredients, trials, filter logs, weighings, choices, tastings,
    measurements, what learners did."""
    path.mkdir(parents=True, exist_ok=True)
    _ingredients(path)
    for number, name in enumerate(NAMES):
        recipe = drink(path, name)
        done = trial.run(recipe, pantry=pantry.load(path), steps=[
            milk.MilkWash("whole cow's milk", share=0.25, name=name), filtering.Filter(1, name=name),
        ] if number % 2 else [])  # fmt: skip
        logbook.save(done, path, title=name, note=ALL)
    for number, name in enumerate(NAMES):
        log = {"minutes": [30, 60, 90, 120], "volumes": [100, 160, 207, 246], "new_papers": [], "total": 500,
               "filters": 1, "returned": 0, "drink": name, "drinklab": name, "time": name}  # fmt: skip
        _write(path / f"my_filter_{_file_name(name)}_{number + 1}.json", log)
        fit = {"technique": "stirred", "pace": 1.2, "wetness": 0.1, "miss": 1.0, "seconds": [15, 30],
               "gained": [20, 30], "drink": name, "setting": {"size": name}, "drinklab": name}  # fmt: skip
        _write(path / f"my_ice_{_file_name(name)}_{number + 1}.json", fit)
    _measurements(path)
    _tastings(path)
    _learners(path)
    return path


def _measurements(path: Path) -> None:
    """Of their own bottles and of ours, some that are asked about."""
    for number, name in enumerate(NAMES):
        by, off = name[:250], 85 if number % 2 else 20
        for what, value in ((f"own_{number}", f"{off} %"), ("gin", "41.6 %")):
            one = measured.checked(
                "strength", what, value, pm="0.5 %", when="2026-01-05", instrument=by, batch=by, note=name
            )
            entries.put(path, replace(one, state=measured.TO_CONFIRM if number % 3 == 0 else one.state, why="x"))


def _tastings(path: Path) -> None:
    """Trials that were tasted and liked, by tasters and on scales of their names."""
    saved = sorted((path / "trials").glob("*.json"))
    for number, name in enumerate(NAMES[:4]):
        who = [texts_for_a_name(f"{name[:50]} {i}") for i in range(3)]
        files = saved[number], saved[number + 1]
        a, b = (tasting.sample(logbook.load(file, pantry=pantry.load(path)), f"{i} {name[:250]}", file.name)
                for i, file in enumerate(files))  # fmt: skip
        plan = tasting.plan([tasting.Taster(one) for one in who], tasting.SCALES)
        scales = [f"liking, {texts_for_a_name(name)[:38]}"]
        one = tasting.prepare(plan, a, b, tasting.portion(a, b, tasting.SCALES, sip=1), scales=scales)
        given = {s.taster: {code: (5 + number,) * len(one.scales) for code in s.codes} for s in one.servings}
        tasting.save(tasting.answered(one, given), path)


def texts_for_a_name(text: str) -> str:
    return text.replace(",", " ").replace(";", " ").strip()


def _learners(path: Path) -> None:
    """What they typed, which exercises and mistakes they say they know, and fields of another hand."""
    (path / progress.FOLDER).mkdir(exist_ok=True)
    for number, name in enumerate(NAMES):
        row = {"seed": 1, "time": "2026-11-01T10:00:00", "word": "mistake", "hints": 1}
        tried = [row | {"exercise": exercise, "typed": name, "route": name} for exercise in (name, "let_down")]
        data = {"format": progress.FORMAT, "version": 1, "code": f"x{number}", "guesses": {name: 1.0}, "done": [name],
                "attempts": tried, name: name}  # fmt: skip
        _write(path / progress.FOLDER / f"x{number}.json", data)


def damaged_folder(path: Path) -> Path:
    """The same, but each file is refused, and its sentence repeats what was in it."""
    folder(path)
    saved = sorted((path / "trials").glob("*.json"))
    spoil = [
        lambda d, t: d.update(format=t), lambda d, t: d["setting"]["recipe"].update(technique=t), lambda d, t: d.update(time=t),
        lambda d, t: d["setting"]["recipe"]["pours"][0].update(ingredient=t), lambda d, t: d["setting"].update(tool=t),
        lambda d, t: d["setting"].update(steps=[{"step": t}]), lambda d, t: d["setting"]["display"].update(volume=t),
        lambda d, t: d["stages"][0].update(name=t, profile={t: t}), lambda d, t: d["setting"].update(ice={t: t}),
    ]  # fmt: skip
    for number, file in enumerate(saved):
        data = json.loads(file.read_text(encoding="utf-8"))
        spoil[number % len(spoil)](data, NAMES[number % len(NAMES)])
        _write(file, data)
        # "/" has no place in a file's name, nor has a very long one.
        file.rename(file.with_name(f"{number}{_file_name(NAMES[number % len(NAMES)])}.json"))
    for number, name in enumerate(NAMES):
        for kind in ("filter", "ice"):
            file = path / f"my_{kind}_{_file_name(name)}_{number + 1}.json"
            data = json.loads(file.read_text(encoding="utf-8"))
            _write(file, data | {"technique": name, "total": name, "minutes": [name]})
    for number, name in enumerate(NAMES):
        file = path / progress.FOLDER / f"x{number}.json"
        _write(file, json.loads(file.read_text(encoding="utf-8")) | {"code": name})
    _write(path / logbook.CHOICES, dict.fromkeys(logbook.DEFAULTS, NASTY) | {NASTY: NASTY})
    with (path / pantry.OWN_FILE).open("a", encoding="utf-8") as file:
        file.write(f'"{NASTY}","{NASTY}","{NASTY}","{NASTY}"\n')
    return path


def drink(path: Path, name: str = NAMES[0]) -> Recipe:
    """A drink of that folder's own ingredients."""
    shelf = pantry.load(path)
    own = [Pour(f"own_{number}", 10) for number in range(len(NAMES))]
    pours = (Pour("gin", 30), *own, Pour("lemon_juice", 20), Pour("own_syrup", 15), Pour("own_juice", 10))
    recipe = Recipe(name, pours, technique="shaken", serve="up", question=ALL, method=ALL)
    recipe.bottles(shelf)
    return replace(recipe, family="sour")


def _ingredients(path: Path) -> None:
    columns = ("id", "name", "kind", "state", "abv_percent", "sugar_g_l", "citric_g_l", "allergens", "may_contain",
               "caution", "source", "source_class")  # fmt: skip
    with (path / pantry.OWN_FILE).open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(columns)
        nuts = f"nuts ({NASTY})"
        for number, name in enumerate(NAMES):
            rows.writerow((f"own_{number}", name, "liqueur", "liquid", 20, 100, 0, nuts, nuts, "", name, "label"))
        for kind, sugar, acid in (("syrup", 600, 0), ("juice", 80, 5)):
            text = f"{kind} {NASTY}"
            rows.writerow((f"own_{kind}", text, kind, "liquid", 0, sugar, acid, nuts, nuts, "", text, "label"))


def _file_name(text: str) -> str:
    return text.replace("/", "\u2215").replace("\0", "").encode()[:200].decode(errors="ignore")


def _write(file: Path, data: dict) -> None:
    file.write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
