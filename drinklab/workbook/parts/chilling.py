"""How a drink on the bench meets ice: melt water by the rule, by hand, or by the person's own ice. No maths here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import ipywidgets as w

from ... import dilution
from ...display import Display
from ...setting import Setting
from ...trial import Trial
from ...units import to_celsius
from .exact import DEGREES, PERCENT, ExactDial, plain
from .html import WIDE
from .panel import Panel, fold


class Chilling(Panel):
    """Melt water and own ice. `melt` and `ice` are what the page asks for, None for the rule.

    What a loaded ice holds and no control shows (how wet it is, its own pace, the tin) is kept.
    """

    def __init__(self, show: Display, on_change: Callable[[], None]) -> None:
        self._on_change = on_change
        self._base, self._changes = dilution.OwnIce(), {}
        self.by_rule = w.Checkbox(description="usual dilution for this method", indent=False, layout=WIDE)
        self.own_ice = w.Checkbox(value=False, description="use my ice instead of the rule", indent=False, layout=WIDE)
        self.share = ExactDial("Dilution (% of the drink before ice)", 0, 0, 1.2, PERCENT, show, self._melt_moved)
        usual = dilution.MOTIONS["shaken"].seconds
        self.dials = {
            "ice": ExactDial("Ice", dilution.USUAL_ICE, 0, 600, plain("g", 5.0), show, self._moves("ice")),
            "ice_temperature": ExactDial(
                "Ice temperature", 0.0, -25.0, 0.0, DEGREES, show, self._moves("ice_temperature")
            ),
            "seconds": ExactDial("Time on the ice", usual, 0, 120, plain("s", 1.0), show, self._moves("seconds")),
        }
        self.size = w.Dropdown(options=list(dilution.ICE_SIZES), value="cubes", description="Ice size", layout=WIDE)
        mine = fold("My own ice", self.own_ice, *self.dials.values(), self.size)
        super().__init__([self.by_rule, self.share, mine])
        self.own_ice.observe(self._answer, "value")
        self.by_rule.observe(self._rule_ticked, "value")
        self.size.observe(lambda change: self._quiet or self._moved("size", change["new"]), "value")

    def use(self, setting: Setting, show: Display) -> None:
        """Stand at what a setting asks for; of ice that it does not use, the person's grams and degrees stay."""
        now, self._changes = self._asked(), {}
        if setting.ice is not None:
            self._base = setting.ice
        else:
            self._base = dilution.OwnIce(ice=now.ice, ice_temperature=now.ice_temperature, size=now.size)
        with self._silently():
            self.by_rule.value, self.own_ice.value = setting.melt is None, setting.ice is not None
            self.size.value = self._base.size
            for name, dial in self.dials.items():
                dial.exact = dial.exact if getattr(self._base, name) is None else getattr(self._base, name)
                dial.show_in(show)
            self.share.exact = 0.0 if setting.melt is None else setting.melt
            self.share.show_in(show)

    def show_in(self, show: Display) -> None:
        """In other units."""
        self.dials["ice_temperature"].show_in(show)

    def show(self, now: Trial) -> None:
        """Stand at what a trial found, where it was not asked for."""
        if now.setting.melt is None:
            self.share.stand_at(now.melt)
        if now.ice is not None and self._asked().seconds is None:
            self.dials["seconds"].stand_at(now.ice.seconds)

    def without_ice(self) -> None:
        """For a drink that meets none: the rule gives no melt water."""
        with self._silently():
            self.own_ice.value, self.by_rule.value = False, True

    @property
    def melt(self) -> float | None:
        """Melt water set by hand. [mL/mL]"""
        return None if self.by_rule.value or self.own_ice.value else self.share.exact

    @property
    def ice(self) -> dilution.OwnIce | None:
        """The person's own ice."""
        if not self.own_ice.value:
            return None
        asked = self._asked()
        return replace(asked, ice_temperature=to_celsius(asked.ice_temperature, "ice temperature"))

    @property
    def typing(self) -> bool:
        """Whether a number is being typed."""
        return self.share.typing or any(dial.typing for dial in self.dials.values())

    def _asked(self) -> dilution.OwnIce:
        return replace(self._base, **self._changes)

    def _moves(self, name: str) -> Callable[[float], None]:
        return lambda exact: self._moved(name, exact)

    def _moved(self, name: str, value) -> None:
        self._changes[name] = value
        with self._silently():
            self.own_ice.value = True
        self._on_change()

    def _melt_moved(self, _) -> None:
        with self._silently():
            self.by_rule.value = self.own_ice.value = False
        self._on_change()

    def _rule_ticked(self, change) -> None:
        if change["new"] and not self._quiet:
            with self._silently():
                self.own_ice.value = False
        self._answer(change)

    def _answer(self, _) -> None:
        if not self._quiet:
            self._on_change()
