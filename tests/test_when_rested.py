"""Panels whose answer takes long, on a live page: nothing is worked out while a hand moves, once when it rests."""

import asyncio

import pytest

from drinklab.workbook.panels import batch, next_glass
from drinklab.workbook.parts.soon import REST


@pytest.mark.parametrize(
    ("make", "dial", "act"), [(batch.panel, "serves", "save"), (next_glass.panel, "limit", "plan")]
)
def test_a_moved_slider_is_answered_once_when_the_hand_rests(make, dial, act, tmp_path, monkeypatch):
    async def page():
        panel, worked = make(tmp_path), []
        answer = panel._answer
        monkeypatch.setattr(panel, "_answer", lambda: worked.append(1) or answer())
        pale = lambda: {"dl-soon" in part._dom_classes for part in panel.answers}  # noqa: E731
        slider = getattr(panel, dial).slider
        before = [part.value for part in panel.answers]
        for _ in range(5):
            slider.value += slider.step
            assert pale() == {True}
        assert not worked
        assert [part.value for part in panel.answers] == before
        await asyncio.sleep(2 * REST)
        assert worked == [1]
        assert pale() == {False}
        assert [part.value for part in panel.answers] != before
        # What is kept is what the page asks for, also where the hand has not rested.
        slider.value -= slider.step
        getattr(panel, act)()
        assert worked == [1, 1]
        assert pale() == {False}
        assert not panel.problem.value

    asyncio.run(page())
