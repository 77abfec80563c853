"""A drink for many: amounts, bottles, fruit, the order of work, and what it costs."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from pathlib import Path

import ipywidgets as w

from ... import batch, carbonation, cost, filtering, plain_data, strength, tables
from ...batch import Batch
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...files import is_there, write_new
from ...setting import TOOLS, Setting
from ..parts import batch_words as words
from ..parts.dials import Dial
from ..parts.exact import DEGREES, PERCENT, VOLUME, ExactDial
from ..parts.html import WIDE, Html, done_words, heading, join, para, problem_words, quiet, table
from ..parts.links import written
from ..parts.panel import Lesson, pick, usual_country
from ..parts.serve_day import ServeDay
from ..parts.soon import WhenRested
from .schedule import checklist_html

SERVES, FILLED, BOTTLES, VESSEL = "serves", "volume", "bottles", "vessel"
OWN = "own"
FIRST = "Clear Line"  # of the demo


def panel(folder: str | Path = ".", drink=None, now: datetime | None = None) -> BatchPanel:
    """A batch: what to measure, buy and do for so many guests, and what a serve costs.

    Parameters
    ----------
    folder : path
        Working folder: the drink in hand and `my_prices.csv` are read from it, sheets are saved in it.
    drink : Recipe or Setting, optional
        The drink in hand by default.
    now : datetime, optional
        The clock's by default.
    """
    return BatchPanel(folder, drink, now)


class BatchPanel(ServeDay, WhenRested, Lesson):
    """A drink made for many."""

    def __init__(self, folder: str | Path, drink=None, now: datetime | None = None) -> None:
        self._now, self.made, self.plan = now, None, None
        self.kept: list[Batch] = []
        super().__init__(folder, drink)

    def _first(self) -> Setting:
        return self._demo[FIRST]

    # --- what is on the page ----------------------------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self._build_wish(show)
        self._build_serve_day("19:00")
        self._build_prices()
        self.headline, self.amounts, self.buy, self.work, self.cost = self.answers = [Html() for _ in range(5)]
        self.several = Html()
        self.save_button = w.Button(
            description="Save the batch sheet", button_style="primary", layout={"width": "auto"}
        )
        self.keep_button = w.Button(description="Add to the shopping list", layout={"width": "auto"})
        self.list_button = w.Button(description="Save the shopping list", disabled=True, layout={"width": "auto"})
        self.clear_button = w.Button(description="Empty the list", disabled=True, layout={"width": "auto"})
        take = self._put_button("Put this batch in hand", self._take)
        self._lay_out(
            [self.choose, Html(heading("How much")), self.wish, self.serves, self.volume, self.bottle, self.count,
             self.size, self.vessel, self.vessel_size, self.headspace, self.stays, self.prediluted, self.papers,
             Html(heading("Measured")), self.tool, self.kept_in, self.freezer,
             Html(heading("Bottles in the shop")), self.shop, Html(heading("The day")), self.date, self.time],
            [self.headline, self.amounts, self.buy, self.work, self.cost],
            [w.HBox([self.save_button, take, self.keep_button], layout={"flex_flow": "row wrap"}), self.prices,
             self.several, w.HBox([self.list_button, self.clear_button], layout={"flex_flow": "row wrap"})],
        )  # fmt: skip
        self._answers_to(
            self.wish, self.bottle, self.vessel, self.prediluted, self.tool, self.kept_in, self.date, self.time,
            self.country,
        )  # fmt: skip
        self.save_button.on_click(lambda _: self.save())
        self.keep_button.on_click(lambda _: self.keep())
        self.list_button.on_click(lambda _: self.save_list())
        self.clear_button.on_click(lambda _: self._emptied())

    def _build_wish(self, show: Display) -> None:
        again = self._moved
        self.wish = pick("Make", [
            ("so many serves", SERVES), ("so much in the bottle", FILLED), ("whole bottles of one", BOTTLES),
            ("what fills a vessel", VESSEL),
        ])  # fmt: skip
        self.serves = Dial("Serves", 60, 200, 1, "", again, 1)
        self.volume = ExactDial("In the bottle", 5000.0, 100, 20_000, VOLUME, show, again)
        self.bottle = pick("Bottle", [("choose …", "")])
        self.count = Dial("How many", 1, 12, 1, "", again, 1)
        self.size = ExactDial("Each holds", 700.0, 100, 1000, VOLUME, show, again)
        vessels = [(name, name) for name, vessel in carbonation.VESSELS.items()]
        self.vessel = pick("Stands in", [("bottles and jugs", ""), ("a vessel of my own", OWN), *vessels])
        self.vessel_size = ExactDial("It holds", 1000.0, 100, 20_000, VOLUME, show, again)
        self.headspace = ExactDial("Kept empty", batch.HEADSPACE, 0, 0.5, PERCENT, show, again)
        self.stays = ExactDial("Stays behind in it", 0.0, 0, 500, VOLUME, show, again)
        self.prediluted = w.Checkbox(description="water in place of the melt water", indent=False, layout=WIDE)
        self.papers = Dial("Papers", 2, 24, 1, "", again, 1)
        self.tool = pick("Measured by", words.tools(list(TOOLS)))
        self.kept_in = pick("Kept in", [("a fridge or a room", False), ("a freezer", True)])
        self.freezer = ExactDial("Freezer at", -18.0, -30, 0, DEGREES, show, again)
        self.shop = ExactDial("A bottle holds", 750.0 if show.volume == "oz" else 700.0, 100, 1000, VOLUME, show, again)

    def _build_prices(self) -> None:
        def box(name: str, hint: str, value: str = "") -> w.Text:
            return w.Text(value, description=name, placeholder=hint, continuous_update=False, layout=WIDE)

        self.country = pick("Money as in", list(strength.countries()), usual_country(self.folder))
        self.pour_cost = Dial("Pour cost", 20, 50, 1, "%", self._moved, 1)
        self.sales_tax = Dial("Sales tax", 0, 30, 1, "%", self._moved)
        self.swap_out, self.swap_in = pick("Instead of", [("nothing", "")]), box("take", "another ingredient")
        for control in (self.swap_out, self.swap_in):
            control.observe(self.refresh, "value")
        units = tables.fields("prices")["pack_unit"]["constraints"]["enum"]
        self.price_of = pick("Price of", [("choose …", "")])
        self.price = box("Price", "of one pack, before tax: 16.50")
        self.currency = box("Currency", "EUR, USD, JPY …")
        self.pack = box("A pack holds", "700")
        self.pack_unit = pick("counted in", units)
        self.pack_yield, self.deposit, self.tax = box("Used, %", "100"), box("Deposit", "0"), box("Tax, %", "0")
        self.price_button = w.Button(
            description="Write the price down", button_style="primary", layout={"width": "auto"}
        )
        self.price_button.on_click(lambda _: self.write_price())
        self.price_said = Html()
        ours = self.say(Fact("prices stand in", file=cost.OWN_FILE))
        form = w.VBox([
            Html(quiet(ours)), self.price_of, self.price, self.currency, self.pack, self.pack_unit, self.pack_yield,
            self.deposit, self.tax, self.price_button, self.price_said, Html(heading("What to ask")), self.country,
            self.pour_cost, self.sales_tax, Html(heading("Another bottle")), self.swap_out, self.swap_in,
        ])  # fmt: skip
        self.prices = w.Accordion([form], titles=["Prices, what to ask, another bottle"], selected_index=None)

    def _show_in(self, show: Display) -> None:
        for dial in (self.volume, self.size, self.vessel_size, self.headspace, self.stays, self.freezer, self.shop):
            dial.show_in(show)

    def _used(self) -> None:
        """The drink's own serves, papers, vessel and tool; its bottles to choose from."""
        drink = self.setting
        names = self._names(drink)
        self.bottle.options = names
        self.swap_out.options = [("nothing", ""), *((name, name) for name in names)]
        self._offer()
        if drink.serves > 1:
            self.serves.set(drink.serves)
        if (gas := drink.step(carbonation.Carbonate)) and gas.vessel in carbonation.VESSELS:
            self.vessel.value = gas.vessel
        elif self.vessel.value in carbonation.VESSELS:
            self.vessel.value = ""
        if paper := drink.step(filtering.Filter):
            self.papers.set(paper.papers)
        self.tool.value = drink.tool

    def _names(self, *drinks: Setting) -> list[str]:
        """What is poured in them, as the pantry calls it."""
        poured = (self.shelf[pour.ingredient].name for d in drinks for pour in d.recipe.pours if pour.amount > 0)
        return list(dict.fromkeys(poured))

    def _offer(self) -> None:
        chosen = self.price_of.value
        drinks = (self.setting, *self.setting.beside) if self.setting else ()
        here = self._names(*drinks)
        rest = [item.name for item in self.shelf.values() if item.name not in here]
        self.price_of.options = [("choose …", ""), *((name, name) for name in (*here, *rest))]
        self.price_of.value = chosen if chosen in (*here, *rest) else ""

    # --- from the page to a batch ---------------------------------------------------------------------------------

    def _wanted(self) -> dict:
        """What is asked for, as `batch.scale` takes it."""
        if self.wish.value == SERVES:
            return {"serves": _whole(self.serves, "serves")}
        if self.wish.value == FILLED:
            return {"volume": self.volume.exact}
        if self.wish.value == BOTTLES:
            return {"bottles": (self.bottle.value, _whole(self.count, "number of bottles"), self.size.exact)}
        if not self.vessel.value:
            raise InputError("vessel to fill", Told("not chosen"), "one under “Stands in”, or your own")
        return {"count": _whole(self.count, "number of vessels")}

    def _batch(self) -> Batch:
        vessel = self.vessel.value
        held = {} if not vessel else {
            "vessel": self.vessel_size.exact if vessel == OWN else vessel, "headspace": self.headspace.exact,
            "stays": self.stays.exact,
        }  # fmt: skip
        papers = _whole(self.papers, "papers") if self.setting.step(filtering.Filter) else None
        return batch.scale(
            self.setting, pantry=self.shelf, **self._wanted(), **held, prediluted=self.prediluted.value, papers=papers,
            tool=self.tool.value, display=self.display,
            keep_at=self.freezer.exact if self.kept_in.value else None,
        )  # fmt: skip

    def _answer(self):
        made = self._batch()
        bought = batch.shopping_list(made, size=self.shop.exact)
        plan = self._planned(partial(batch.work, made, now=self.now))
        prices, wrong = self._prices()
        spent = None if prices is None else cost.cost(made, prices)
        country, show = self.country.value, self.display
        told = self._cost_words(prices, spent, country, bought)
        self.made, self.plan = made, plan
        self.headline.value = words.headline(made, spent, show, country)
        beside = [words.section(f"Beside it: {other.name}", table(*words.amounts(other, show)))
                  for other in made.beside]  # fmt: skip
        said = map(para, words.said_of(made, show))
        self.amounts.value = join([words.section("Measure", table(*words.amounts(made, show)), *said), *beside])
        self.buy.value = words.section("Buy", table(*words.shopping(bought, show, False)))
        self.work.value = words.section("Do", checklist_html(plan.checklist(show)))
        self.cost.value = join([words.section("Cost", *told), *[words.problem(e, show) for e in wrong]])
        self._show_list()
        return made.trial

    def _show_controls(self) -> None:
        """Only what this wish and this drink need."""
        wish, own = self.wish.value, self.vessel.value == OWN
        melts = self._melts()
        for control, there in (
            (self.serves, wish == SERVES), (self.volume, wish == FILLED), (self.bottle, wish == BOTTLES),
            (self.count, wish in (BOTTLES, VESSEL)), (self.size, wish == BOTTLES), (self.vessel_size, own),
            (self.headspace, own), (self.stays, bool(self.vessel.value)),
            (self.prediluted, melts and not self.kept_in.value),
            (self.papers, self.setting.step(filtering.Filter) is not None), (self.freezer, self.kept_in.value),
        ):  # fmt: skip
            control.layout.display = None if there else "none"

    def _melts(self) -> bool:
        drink = self.setting
        return drink.recipe.serve != "hot" and (
            drink.recipe.technique != "none" or drink.melt is not None or drink.ice is not None
        )

    def refresh(self, _=None) -> None:
        """Recompute and repaint; which controls there are goes by the choices, also where there is no answer."""
        if not self._quiet and self.setting is not None:
            self._show_controls()
        super().refresh()

    # --- cost -----------------------------------------------------------------------------------------------------

    def _prices(self) -> tuple[cost.Prices | None, list[InputError]]:
        """The person's price list as it is now, and what is wrong with it."""
        try:
            return cost.load(self.folder, pantry=self.shelf), []
        except InputError as error:
            return None, [error]

    def _cost_words(self, prices, spent, country: str, bought) -> list[str]:
        if spent is None:
            if is_there(Path(self.folder) / cost.OWN_FILE):
                return []
            return [quiet(self.say(Fact("no price known")))]
        told = [table(*words.lines(spent, country))]
        told += map(para, words.costs(spent, country, self.pour_cost.value, self.sales_tax.value))
        told.append(para(words.till(bought, prices, country)))
        if self.swap_out.value and self.swap_in.value.strip():
            try:
                other = cost.swap(self.setting, self.swap_out.value, self.swap_in.value, prices, pantry=self.shelf)
                told.append(para(words.swap_words(other, self.swap_in.value.strip(), country, self.display)))
            except InputError as error:
                told.append(problem_words(self.say(error)))
        return told

    def write_price(self) -> None:
        """Write the form's price into the person's own list."""
        cells = {
            "ingredient": self.price_of.value, "price": self.price.value, "currency": self.currency.value.strip(),
            "pack": self.pack.value, "pack_unit": self.pack_unit.value, "yield_percent": self.pack_yield.value,
            "deposit": self.deposit.value, "tax_percent": self.tax.value,
        }  # fmt: skip
        try:
            path = cost.write(self.folder, {name: cell.strip() for name, cell in cells.items()}, pantry=self.shelf)
        except InputError as error:
            self.price_said.value = problem_words(self.say(error))
            return
        done = Fact("price written", file=path.name, name=self.price_of.value)
        self.price_said.value = done_words(self.say(done))
        self.refresh()

    # --- what is kept ---------------------------------------------------------------------------------------------

    def _take(self) -> None:
        self.put_in_hand(self.made.setting, Fact("measured for serves", serves=self.made.serves))

    def save(self) -> None:
        """Save all of the batch as markdown, under a new name."""
        with self._said():
            self._mended()
            prices, _ = self._prices()
            spent = None if prices is None else cost.cost(self.made, prices)
            bought = batch.shopping_list(self.made, size=self.shop.exact)
            text = words.sheet(self.made, self.plan, bought, spent, self.display, self.country.value)
            path = write_new(self.folder, f"batch_{plain_data.slug(self.made.name)}", {".md": text})[0]
            self.said.value = written("Saved as ", [path], self.say(Fact("in your working folder")))

    def keep(self) -> None:
        """Put this batch on the shopping list, in place of an earlier one of the same drink."""
        with self._said():
            self._mended()
            self.kept = [*(one for one in self.kept if one.name != self.made.name), self.made]
            self._show_list()

    def _emptied(self) -> None:
        self.kept = []
        self._show_list()

    def _list_words(self) -> tuple[str, tuple]:
        named = ", ".join(f"{one.name} ({one.serves})" for one in self.kept)
        return f"For {named}", batch.shopping_list(self.kept, size=self.shop.exact)

    def _show_list(self) -> None:
        self.list_button.disabled = self.clear_button.disabled = not self.kept
        if not self.kept:
            self.several.value = ""
            return
        named, bought = self._list_words()
        self.several.value = words.section(
            "Shopping list", para(f"{named}."), table(*words.shopping(bought, self.display, True))
        )

    def save_list(self) -> None:
        """Save the list over all drinks on it as markdown, under a new name."""
        with self._said():
            named, bought = self._list_words()
            text = f"# Shopping list\n\n{named}.\n\n{words.markdown(words.shopping(bought, self.display, True))}\n"
            path = write_new(self.folder, "shopping_list", {".md": text})[0]
            self.said.value = written("Saved as ", [path], self.say(Fact("in your working folder")))


def _whole(dial: Dial, what: str) -> int:
    value = dial.value
    if value != round(value):
        raise InputError(what, value, "a whole number")
    return int(value)
