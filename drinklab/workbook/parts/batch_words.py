"""The words of a batch: tables and sentences, for the page and for a file. No maths here."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from ... import batch as _batch
from ... import cost as _cost
from ... import texts
from ...batch import Batch, Bought
from ...cost import Cost, Prices
from ...declared import LABELS, declared
from ...display import Display
from ...errors import InputError
from ...facts import Fact, say
from ...kinds import ABV, CONCENTRATION, VOLUME
from ...making import piece, weight
from ...profile import KINDS, WORDS
from ...schedule import Plan
from .html import heading, join, problem_words, sentence, tiles

Table = tuple[Sequence[str], list[Sequence[str]]]
_WHEN = {"batch": "in the batch", "day": "on the day", "glass": "in each glass", "step": ""}
_MEASURED = {
    "jigger": "jigger, jug and measures", "scale": "a scale", "free pour": "a free pour", "exact": "nothing: exact",
}  # fmt: skip


def tools(names: Sequence[str]) -> list[tuple[str, str]]:
    """What can be measured by, in words."""
    return [(_MEASURED.get(name, name), name) for name in names]


def headline(made: Batch, spent: Cost | None, show: Display, country: str) -> str:
    """The figures of a batch in large print."""
    each = show.parts(KINDS["volume"], made.trial.served.profile.volume)
    of = piece(made.trial)
    figures = [
        (f"{of.capitalize()}s", str(made.serves), "", ""),
        (f"Each {of}", *each),
        ("In the bottle" if made.stand is None else "In its vessel", *show.parts(KINDS["volume"], made.bottled)),
    ]
    if made.fillings > 1:
        figures.append(("Fillings", str(made.fillings), "", ""))
    if spent is not None:
        amount = _cost.money(spent.serve, spent.currency, country)
        figures.append(("Cost a serve" if not spent.partial else "Cost a serve, in part", amount, "", ""))
    return tiles(figures)


def amounts(made: Batch, show: Display) -> Table:
    """What to measure."""
    rows = []
    for row in made.rows:
        exact = "" if row.exact is None or row.dry else show.volume_text(row.exact)
        when = _WHEN[row.when] or show.say(row.why)
        rows.append((row.name, row.text(show), f"{weight(row.grams)} g", exact, when))
    rows.append(("all of it", "", f"{weight(made.grams)} g", "", ""))
    return ("", "measure", "or weigh", "by the sums", "goes in"), rows


def said_of(made: Batch, show: Display) -> list[str]:
    """What is lost, left over and changed by measuring; what is kept out, and how it keeps."""
    lost = tuple(Fact("lost when", lost=VOLUME(ml), step=name) for name, ml in made.losses if ml >= 0.05)
    facts = [Fact("batch: lost", steps=lost)] if lost else []
    if made.stand is not None and made.stand.stays:
        facts.append(Fact("batch: stays", stays=VOLUME(made.fillings * made.stand.stays)))
    if made.left_over >= 0.5:
        facts.append(Fact("batch: left over", left=VOLUME(made.left_over)))
    off = tuple(
        Fact("off by", what=WORDS[name], off=KINDS[name](by)) for name, by in made.error.items()
        if name != "volume" and show.parts(KINDS[name], abs(by))[0].strip("0.")
    )  # fmt: skip
    measured = Fact("measured off", figures=off) if off else Fact("measuring changes little")
    late = [row for row in made.rows if row.why and row.when in ("day", "glass")]
    kept_out = [Fact("kept out", bottle=row.name.capitalize(), why=row.why) for row in late]
    kept_out += [glass] if (glass := _batch.each_glass(made)) else []
    return list(map(show.say, (*facts, (measured, Fact("marks of measures")), *kept_out, *made.notes)))


def shopping(bought: Sequence[Bought], show: Display, several: bool) -> Table:
    """What to buy."""
    rows = []
    for item in bought:
        buy = item.to_buy(show)
        if item.count and item.left >= 0.5:
            buy = show.say(Fact("bought with a rest", buy=buy, left=VOLUME(item.left)))
        rows.append((item.name, item.amount(show), buy, *[", ".join(item.drinks)] * several))
    return ("", "needed", "buy", *["for"] * several), rows


def till(bought: Sequence[Bought], prices: Prices, country: str) -> str:
    """What a shopping list comes to."""
    packs, deposits, missing = _cost.spent(bought, prices)
    paid, back = (_cost.money(amount, prices.currency, country) for amount in (packs, deposits))
    said = [Fact("till and deposits", packs=paid, deposits=back) if deposits else Fact("till", packs=paid)]
    return say(said + [Fact("not at the till", missing=missing)] * bool(missing))


def lines(spent: Cost, country: str) -> Table:
    """What each ingredient costs in a serve."""
    rows = []
    for line in spent.lines:
        if line.amount is None:
            rows.append((line.name, "no price", ""))
            continue
        coin = Decimal(1).scaleb(-_cost.digits(spent.currency))
        little = 0 < line.amount < coin
        shown = _cost.money(coin if little else line.amount, spent.currency, country)
        share = 100 * (line.share or 0.0)
        rows.append((line.name, f"{'under ' * little}{shown}", f"{share:.0f} %" if share >= 1 else "under 1 %"))
    return ("", "a serve", "of the cost"), rows


def costs(spent: Cost, country: str, pour_cost: float, sales_tax: float) -> list[str]:
    """What a serve costs, and what to ask for it."""
    said = Fact("cost with its ±", cost=sentence(say(spent.said(country))))
    if spent.partial:
        return [say(said), say(Fact("cost in part"))]
    ask = _cost.money(spent.price_for(pour_cost, sales_tax), spent.currency, country)
    if not sales_tax:
        return [say(said), say(Fact("price to ask", pour_cost=pour_cost, ask=ask))]
    return [say(said), say(Fact("price to ask with tax", pour_cost=pour_cost, ask=ask, sales_tax=sales_tax))]


def swap_words(found: _cost.Swap, new: str, country: str, show: Display) -> str:
    """What another bottle does, and what it brings that a guest or a bartender must know."""
    money, by = _cost.money(abs(found.saved), found.was.currency, country), found.change
    does = Fact("swap saves" if found.saved > 0 else "swap costs more", money=money)
    swapped = Fact(
        "swap", bottle=new.capitalize(), does=does if found.saved else Fact("swap costs the same"),
        abv=ABV(by["abv"]), sugar=CONCENTRATION(by["sugar"]), acid=CONCENTRATION(by["acid"]),
    )  # fmt: skip
    return show.say((swapped, *found.brings.said()))


def markdown(one: Table) -> str:
    """A table of a file."""
    head, rows = one
    clean = lambda cells: " | ".join(in_a_file(cell).replace("|", "/") for cell in cells)  # noqa: E731
    return "\n".join(f"| {clean(cells)} |" for cells in (head, ["---"] * len(head), *rows))


def in_a_file(text: str) -> str:
    """A name, or a sentence with one in it, as one line of Markdown that is no HTML.

    >>> print(in_a_file("Sour\\n## Cautions\\n<img>"))
    Sour ## Cautions \\<img>
    """
    return texts.line(str(text)).replace("<", "\\<")


def section(title: str, *inside: str) -> str:
    """A part of the page under its heading."""
    return join([heading(title), *inside])


def sheet(made: Batch, plan: Plan, bought: Sequence[Bought], spent: Cost | None, show: Display, country: str) -> str:
    """All of a batch as a file."""
    held = declared(made.trial)
    told = [
        f"# {in_a_file(made.name)}, {made.serves} {piece(made.trial)}s", "", markdown(amounts(made, show)), "",
        *(f"- {in_a_file(said)}" for said in said_of(made, show)),
        *(part for other in made.beside for part in
          ("", f"## Beside it: {in_a_file(other.name)}", "", markdown(amounts(other, show)))),
        "", "## To buy", "", markdown(shopping(bought, show, bool(made.beside))), "",
        plan.checklist(show).replace("<", "\\<").replace("\n## ", "\n### ").replace("# ", "## ", 1),
        *(["", "## Cost", "", markdown(lines(spent, country)), "", say(spent.said(country))] if spent else []),
        "", "## Cautions", "", *(f"- {in_a_file(show.say(fact))}" for fact in held.said()),
        *[f"- {say(Fact('no allergen known of'))}"] * (not (held.allergens or held.may_contain or held.unstated)),
        f"- {LABELS}",
    ]  # fmt: skip
    return "\n".join(told) + "\n"


def problem(error: InputError, show: Display) -> str:
    """What is wrong with a price list, beside what can be shown."""
    return problem_words(show.say(error), say(Fact("rest without prices")))
