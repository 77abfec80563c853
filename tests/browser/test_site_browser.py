"""A folder of finished pages, handed on over loopback: the list, its search, and a page that works as it is served."""

from __future__ import annotations

import threading
from datetime import date

import pytest

from drinklab import classics, pantry, share, trial, writeup
from drinklab.setting import Setting
from drinklab.share import serving

pytestmark = pytest.mark.browser


def test_a_phone_finds_a_drink_and_tries_it(page, tmp_path):
    known, wrong = classics.load(), []
    for name in ("Daiquiri", "Negroni", "Alexander"):
        writeup.save(trial.run(Setting(known[name], draws=20), pantry=pantry.load()), tmp_path, date=date(2026, 11, 27))
    share.save_try_page(known["Daiquiri"], tmp_path, date=date(2026, 11, 27))
    page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.set_viewport_size({"width": 390, "height": 844})
    with serving.Sharing(tmp_path, share.finished(tmp_path), port=0) as server:
        threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True).start()
        page.goto(server.url)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        page.get_by_label("Find").fill("lime RUM")
        page.get_by_text("1 of 4").wait_for()
        assert page.locator(".pages a:visible").all_inner_texts() == ["Daiquiri"]
        page.get_by_label("Find").fill("")
        page.emulate_media(media="print")
        assert page.locator(".booklet article:visible").count() == 3
        page.emulate_media(media="screen")
        page.get_by_role("link", name="Daiquiri", exact=True).last.scroll_into_view_if_needed()
        page.goto(f"{server.url}{next(p.path for p in share.finished(tmp_path) if p.kind == 'what-if')}")
        page.wait_for_selector(".try-on:not([hidden])")
        before = page.locator(".try-brief").inner_text()
        slider = page.locator(".try-rows input[type=range]").first
        slider.focus()
        page.keyboard.press("ArrowRight")
        assert page.locator(".try-brief").inner_text() != before
        server.shutdown()
    assert [said for said in wrong if "favicon" not in said] == []
