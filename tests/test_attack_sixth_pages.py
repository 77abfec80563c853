"""A sixth attack, on pages that are handed on: what a stranger wrote stays text, by a parser of the HTML standard."""

from collections import Counter
from dataclasses import replace

import hostile
import html5lib
import pytest
from long_run import some

from drinklab import cards, menu, share, trial, writeup
from drinklab.errors import InputError
from drinklab.recipe import Recipe

_DRINK = Recipe.parse("60 mL gin, 40 %\n30 mL lime juice\n20 mL egg white")
# What our pages are made of, and what of it may lead anywhere.
_NEVER = {
    "img",
    "iframe",
    "object",
    "embed",
    "form",
    "base",
    "link",
    "video",
    "audio",
    "source",
    "math",
    "xss",
    "animate",
}


def _strange(page: str) -> list[str]:
    """Elements and attributes of a page that could do something, or lead anywhere."""
    found = []
    for element in html5lib.parse(page, namespaceHTMLElements=False).iter():
        if not isinstance(element.tag, str):
            continue
        tag = element.tag.rpartition("}")[2]
        found += [tag] * (tag in _NEVER)
        for name, value in element.items():
            name = name.rpartition("}")[2] if isinstance(name, str) else name[-1]
            led = name in ("src", "href", "action", "data", "srcdoc") and not value.startswith(("#", "data:image/"))
            if name.startswith("on") or (led and not (tag == "a" and value.startswith(("http", "a.html")))):
                found.append(f"{tag} {name}={value.partition(':')[0]}")
    return found


def _pages(text: str):
    """Each page of a drink whose every word is a stranger's, by its name."""
    drink = replace(
        _DRINK, name=text, question=text, method=text, glass=text[:80], glass_ice=text[:80], garnish=text[:80]
    )
    now = trial.run(drink, draws=0)
    page = writeup.html(now, title=text, author=text, finding=text, notes=text, licence=text)
    made = {
        "write-up": lambda: page,
        "page to try": lambda: share.try_page(now, title=text),
        "site": lambda: share.index_html([share.Page("a.html", "write-up", text, page)], title=text),
        "damaged": lambda: share.index_html([share.Page("a.html", "write-up", text, page.replace('"tool"', '"<b>"'))]),
        "spec card": lambda: cards.spec_html(cards.spec(now)),
        "guest card": lambda: cards.guest_html(cards.guest(now)),
        "labels": lambda: cards.labels_html(cards.label(now, stock="4 × 2 in, 10 on Letter", coded="://" not in text)),
        "menu": lambda: cards.menu_html(cards.menu_page(menu.menu([now]), title=text[:40])),
    }
    for name, make in made.items():
        try:
            yield name, make()
        except InputError:  # too long for its paper
            continue


@pytest.mark.parametrize("at", some(range(0, len(hostile.BATTERY), 8), 2))
def test_a_strangers_words_are_text_on_every_page_that_is_handed_on(at):
    ours = {name: Counter(_strange(page)) for name, page in _pages("plain")}
    seen = set()
    for text in hostile.BATTERY[at : at + 8]:
        for name, page in _pages(text):
            assert Counter(_strange(page)) <= ours[name], (name, text)
            seen.add(name)
    assert len(seen) == 8  # each kind of page was made


def test_the_check_sees_what_is_strange():
    for text in hostile.BATTERY[1:4]:
        assert _strange(f"<!doctype html><title>x</title><p>{text}</p>")
