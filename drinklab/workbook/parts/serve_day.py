"""When a drink is served: day and hour, for the panels that plan back from them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta

import ipywidgets as w

from ... import schedule
from .html import WIDE


class ServeDay:
    """Day and hour to serve, part of a panel: until a person chooses the day, it is the first that can be kept."""

    _now: datetime | None = None
    _day_chosen = False

    @property
    def now(self) -> datetime:
        """The present time."""
        return self._now or datetime.now()

    def _build_serve_day(self, hour: str) -> None:
        self.date = w.DatePicker(description="Serve on", value=self._soonest(), layout=WIDE)
        self.time = w.Text(hour, description="at", placeholder="19:00 or 7 pm", continuous_update=False, layout=WIDE)
        self.date.observe(self._choose_day, "value")

    def _soonest(self) -> date:
        return self.now.date() + timedelta(days=2)

    def _choose_day(self, _) -> None:
        self._day_chosen = self._day_chosen or not self._quiet

    def serve_at(self) -> datetime:
        """Date and time as the page stands."""
        return schedule.on(self.date.value, self.time.value)

    def _planned(self, plan_for: Callable[[datetime], schedule.Plan]) -> schedule.Plan:
        """The plan for the day that a person chose, or else for the first that it can be kept on."""
        if self._day_chosen:
            return plan_for(self.serve_at())
        day = self._soonest()
        plan = plan_for(schedule.on(day, self.time.value))
        if plan.late:
            day = plan.earliest.date() + timedelta(days=plan.earliest.time() > plan.serve_at.time())
            plan = plan.moved(schedule.on(day, self.time.value))
        with self._silently():
            self.date.value = day
        return plan
