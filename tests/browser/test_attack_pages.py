"""A third attack on the pages, in a real Chromium: names of files that are no text."""

from __future__ import annotations

import json
import os

from drinklab import logbook

LOG = {"minutes": [30, 60], "volumes": [100, 160], "new_papers": [], "total": 500, "filters": 1, "returned": 0,
       "drink": "x", "kept_full": None}  # fmt: skip


def test_file_names_that_are_no_text_do_not_end_the_page(lab, page):
    """A file's name may hold bytes that are no UTF-8 (POSIX); a page that sends them as they are loses its kernel."""
    folder = os.fsencode(lab.folder)
    os.makedirs(os.path.join(folder, b"trials"), exist_ok=True)
    made = [os.path.join(folder, b"trials", b"\xff\xfe.json"), os.path.join(folder, b"my_filter_\xff_1.json")]
    for path in made:
        with open(path, "w") as file:
            file.write(json.dumps(LOG))
    try:
        lab.open_bench(page)
        assert "saved trial" in page.inner_text(".dl-bench")
        page.get_by_role("textbox", name="Title").fill("still here")
        page.get_by_role("textbox", name="Title").press("Tab")
        page.get_by_role("button", name="Save", exact=True).click()
        page.get_by_text("Saved as trials").wait_for()
        assert [entry.title for entry in logbook.entries(lab.folder)[0]] == ["still here"]
        page.goto(lab.address("04_clarification.ipynb"))
        page.get_by_role("button", name="The filter", exact=True).click(timeout=120_000)
        page.get_by_text("my_filter_").first.wait_for(timeout=120_000, state="attached")
    finally:
        for path in made:
            os.unlink(path)
