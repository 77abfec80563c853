"""A what-if page: the part of a write-up that its reader can try, alone, for a class on phones."""

from __future__ import annotations

import functools
from datetime import date as _date
from pathlib import Path
from typing import Any

from markupsafe import Markup

from .. import __version__, files, plain_data, texts, trial
from ..declared import not_stated
from ..display import Display
from ..recipe import Recipe
from ..setting import Setting
from ..writeup import live
from ..writeup.filling import template

PAGES = "pages"  # of the working folder


def try_page(
    drink: trial.Trial | Setting | Recipe,
    *,
    title: str = "",
    display: Display | None = None,
    date: _date | None = None,
) -> str:
    """One HTML page on which somebody can change a drink and see what comes of it; nothing in it is fetched.

    Parameters
    ----------
    drink : Trial, Setting or Recipe
        Of a saved trial (`logbook.load`), a classic (`classics.load()["Daiquiri"]`), or one's own.
    title : str
        The drink's name by default.
    display : Display, optional
        mL or oz, °C or °F at first, if not as in the setting.
    date : datetime.date, optional
        Today by default.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For a drink that cannot be made, or a title that is too long.
    """
    now = drink if isinstance(drink, trial.Trial) else trial.run(drink)
    show = display or now.setting.display
    name = texts.line(now.recipe.name)
    style = f"{plain_style()}{live.style()}"
    script = live.script()
    return template("try_page.html.j2").render(
        version=__version__, kind="what-if", drink=name, date=(date or _date.today()).isoformat(),
        title=texts.line(texts.clean(title, "title", texts.NAME)) or name,
        question=[line for line in map(texts.line, now.recipe.question.splitlines()) if line],
        contains=contains(now), cautions=[show.say(caution) for caution in now.cautions],
        section=live.section(now, display=show), style=Markup(style), script=script,
        style_policy=Markup(live.policy(style)), script_policy=Markup(live.policy(script)),
    )  # fmt: skip


def contains(now: trial.Trial) -> str:
    """Allergens of a drink, and what nobody has stated, in a sentence or two."""
    held = ", ".join(now.allergens) or ("none known" if now.unstated else "none known from the table of ingredients")
    may = f" May contain: {', '.join(now.may_contain)}." if now.may_contain else ""
    unsaid = "".join(f" {texts.line(str(fact))}" for fact in not_stated(now.unstated))
    return f"{held}.{may}{unsaid}"


def save_try_page(drink: trial.Trial | Setting | Recipe, folder: str | Path, *, title: str = "", **about: Any) -> Path:
    """Write `try_page` as a new file under `folder`/pages; nothing is ever overwritten.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        As `try_page`, and if the folder cannot be written to.
    """
    now = drink if isinstance(drink, trial.Trial) else trial.run(drink)
    page = try_page(now, title=title, **about)
    day = (about.get("date") or _date.today()).isoformat()
    stem = f"{day}_{plain_data.slug(title or now.recipe.name)}_what-if"
    return files.write_new(Path(folder) / PAGES, stem, {".html": page})[0]


@functools.cache
def plain_style() -> str:
    """The style sheet of our plain pages: light and dark, for a phone, a screen and a printer."""
    return (Path(__file__).parents[1] / "templates" / "plain_page.css").read_text(encoding="utf-8")
