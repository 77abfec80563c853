"""The cards as a browser prints them: each on the one page that the rule of lengths promised, of the size it should have."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from drinklab import cards, demo, menu, pantry, trial
from drinklab.cards import lengths
from drinklab.errors import InputError
from drinklab.recipe import Recipe

pytestmark = pytest.mark.browser

POINT = 25.4 / 72
SCRIPTS = ("قطار الليل الأخير", "הרכבת האחרונה", "終電の一杯", "Поздний поезд", "Ἀθῆναι", "🍸🚂", "e\u0301\u0302" * 20)
TEXTS = (
    "The quick brown fox jumps over the lazy dog 0123456789", "½ oz ± 0.3 % vol · 45 mL, 5 °C (41 °F)", "WWWWMMMM@@@@—…",
    "“It’s” [so] {or} <so> & |not| / \\ ~ ^ _ `", "Crème de pêche, ÅÉÎÕÜ ñ ß ø æ ł", *SCRIPTS,
)  # fmt: skip


def _filled(recipe: Recipe, field: str, unit: str, make) -> object:
    """The card with as much of a field as still fits."""
    last, count = None, 1
    while count < 4000:
        try:
            last = make(trial.run(replace(recipe, **{field: unit * count}), draws=0))
        except InputError:
            break
        count = int(count * 1.4) + 1
    return last


@pytest.fixture(scope="module")
def made():
    """Pages of cards, with the size of paper that each should have: the demo's, other scripts, and full to the brim."""
    shelf = pantry.load()
    runs = [trial.run(drink, pantry=shelf, draws=0) for drink in demo.settings(shelf).values()]
    runs += [trial.run(Recipe.parse("45 mL gin\n20 mL lemon juice", name=name), draws=0) for name in SCRIPTS]
    sour = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL egg white\n90 mL tonic water\n20 mL grapefruit juice")
    specs = [cards.spec(one) for one in runs]
    for unit in ("Stir it well. ", "Stir it well.\n", "W", "il ", "crème brûlée, 終電 "):
        specs.append(_filled(sour, "method", unit, cards.spec))
        specs.append(_filled(sour, "name", unit.replace("\n", " ")[: 300 // 20], cards.spec))
    pages = [(cards.spec_html(one), "A5") for one in specs if one]
    guests = [cards.guest(one) for one in runs] + [_filled(sour, "name", unit, cards.guest) for unit in ("W", "il ")]
    pages += [(cards.guest_html(one), "A6") for one in guests]
    for stock, about in cards.STOCKS.items():
        labels = [cards.label(one, stock=stock, count=about.count + 1) for one in (runs[0], runs[3], runs[-1])]
        labels += [
            _filled(sour, "name", u, lambda one, stock=stock: cards.label(one, stock=stock)) for u in ("W ", "il ")
        ]
        labels.append(cards.label(runs[0], stock=stock, coded=True))
        pages += [(cards.labels_html(one), about.paper) for one in labels]
    for paper in cards.labels.PAPERS:
        listed = [cards.menu_page(menu.menu([*runs] * times), paper=paper) for times in (1, 3)]
        pages += [(cards.menu_html(one), paper) for one in listed]
    return pages


_APART = "<style>body > div:not(:last-child) { break-after: page; }</style>"


def _together(pages) -> str:
    """One document of all of them: each body becomes a part of it, with its own paper."""
    (style,) = re.findall(r"<style>.*?</style>", pages[0][0], re.DOTALL)
    parts = []
    for page, _ in pages:
        opening, inner = re.search(r"<body( [^>]*)>(.*)</body>", page, re.DOTALL).groups()
        parts.append(f"<div{opening}>{inner}</div>")
    return (
        f"<!DOCTYPE html><html><head><meta charset='utf-8'>{style}{_APART}</head><body>{''.join(parts)}</body></html>"
    )


def test_every_card_prints_on_its_own_page(page, made):
    """A5, A6, A4 and US letter by the boxes of the pages of the PDF; and no text is wider than the rule of lengths has it."""
    page.set_content(_together(made))
    pdf = page.pdf(prefer_css_page_size=True)
    size = {"A5": (148, 210), "A6": (105, 148), "A4": (210, 297), "Letter": (215.9, 279.4)}
    boxes = [tuple(map(float, box.split()[2:])) for box in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf)]
    found = [next(n for n, mm in size.items() if all(abs(b * POINT - m) < 0.4 for b, m in zip(box, mm, strict=True)))
             for box in boxes]  # fmt: skip
    wanted = [paper for text, paper in made for _ in range(text.count("<section"))]
    assert found == wanted
    # A label keeps what is over its edge to itself: none may have any.
    over = page.evaluate(
        "[...document.querySelectorAll('.label')].filter(l => l.scrollHeight > l.clientHeight + 1).map(l => l.innerText)"
    )
    assert over == []
    measured = page.evaluate(
        """texts => { const ink = document.createElement("canvas").getContext("2d");
        return ["", "bold "].map(weight => { ink.font = weight + '100px Arial, "Liberation Sans"';
        return texts.map(text => ink.measureText(text).width / 100); }); }""",
        TEXTS,
    )
    for bold, widths in zip((False, True), measured, strict=True):
        for text, wide in zip(TEXTS, widths, strict=True):
            rule = lengths.width(text, 1 / POINT, bold)
            assert wide <= rule, f"{text!r}: {wide:.2f} em printed, {rule:.2f} by the rule"
            assert text in SCRIPTS or rule <= 1.2 * wide, f"{text!r}: {rule:.2f} em by the rule, {wide:.2f} printed"
