"""An eleventh attack: links in a folder, names in other languages, fire and cold in the words for a drink, two amounts.

Each test failed before it was mended.
"""

import os

import pytest

from drinklab import measured
from drinklab.workbook.panels import dilution, filtering, schedule


# --- what is opened ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("leads", ["", "nowhere/at all", "a" * 300], ids=["to itself", "to nothing", "too long"])
@pytest.mark.parametrize("name", ["my_ice_01.json", "my_filter_01.json"])
def test_a_link_that_leads_nowhere_closes_no_page(tmp_path, name, leads):
    """No page with ice or a filter on it opened: such a link may be listed, and cannot be looked at."""
    (tmp_path / name).symlink_to(leads or name)
    said = [*measured.own_fits(tmp_path)[1], *measured.own_logs(tmp_path)[1]]
    assert len(said) == 1
    assert name in said[0]
    for page in (dilution, filtering, schedule):
        page.panel(tmp_path)


def test_weighings_that_go_while_they_are_read_are_told_of(tmp_path, monkeypatch):
    """Another page may put a file away between its listing and its reading."""
    (tmp_path / "my_ice_01.json").write_text("{}", encoding="utf-8")
    listed = measured.kept.numbered(tmp_path, "my_ice", ".json")
    os.remove(tmp_path / "my_ice_01.json")
    monkeypatch.setattr(measured.kept, "numbered", lambda *_: listed)
    assert "my_ice_01.json" in measured.own_fits(tmp_path)[1][0]
