"""The page of own measurements: written down, asked about, and what other pages make of it."""

import json
import re
import zipfile
from dataclasses import replace
from datetime import date

import pytest
from all_panels import htmls

from drinklab import measured
from drinklab.measured import OwnFit, save_fit
from drinklab.workbook.panels import measured as measured_panel


def text(part):
    return re.sub(r"<[^>]+>", " ", part.value)


def page(panel):
    return " ".join(text(part) for part in htmls(panel))


def write(panel, kind, what, value, **more):
    panel.kind.value = kind
    panel.what.value, panel.value.value = what, value
    for name, given in more.items():
        getattr(panel, name).value = given
    panel.write_button.click()


def test_suppliers_stand_side_by_side_once_two_were_read(tmp_path):
    panel = measured_panel.panel(tmp_path)
    write(panel, "acid", "verjus", "33 g/L", batch="north")
    assert panel.beside.value == ""
    write(panel, "acid", "verjus", "31 g/L", batch="south")
    assert re.search(r"north\s+1\s+\d\d ± \d.*south\s+1\s+\d\d ± \d", text(panel.beside)), text(panel.beside)
    write(panel, "paper", "paper", "14 mL", batch="pack A")
    write(panel, "paper", "paper", "18 mL", batch="pack B")
    assert "pack B" in text(panel.beside)


def test_a_measurement_is_written_down_and_counts_on_the_page(tmp_path):
    panel = measured_panel.panel(tmp_path)
    assert "No figure yet" in text(panel.held)
    assert "Titrate" in text(panel.next)
    write(panel, "acid", "verjus", "33 g/L", batch="spring")
    assert "Written down" in text(panel.said)
    assert "Measured here: acid of verjus" in text(panel.held)
    assert "Titrate verjus" not in text(panel.next)
    (entry,) = measured.load(tmp_path)
    assert (entry.value, entry.batch, entry.when) == (33, "spring", date.today().isoformat())


def test_one_without_its_unit_is_asked_for_and_nothing_is_lost(tmp_path):
    panel = measured_panel.panel(tmp_path)
    write(panel, "acid", "verjus", "33")
    assert "a number with its unit, g/L" in text(panel.said)
    assert panel.value.value == "33"
    assert not (tmp_path / measured.OWN_FILE).exists()


def test_a_far_one_is_asked_about_and_counts_once_it_is_right(tmp_path):
    panel = measured_panel.panel(tmp_path)
    assert panel.question.layout.display == "none"
    write(panel, "acid", "lemon juice", "92 g/L")
    assert panel.question.layout.display is None
    assert "times the spread that is usual" in text(panel.asked)
    assert "No figure yet" in text(panel.held)
    panel.right.click()
    assert panel.question.layout.display == "none"
    assert "acid of lemon juice" in text(panel.held)
    panel.any_of.value = measured.load(tmp_path)[0].id
    panel.back.click()
    assert "No figure yet" in text(panel.held)
    assert "taken back" in text(panel.list)


def test_volumes_follow_the_choice(tmp_path):
    panel = measured_panel.panel(tmp_path)
    write(panel, "pour", "jigger", "28.5 mL", of="30", times=5)
    panel.volume_unit.value = "oz"
    assert "0.96 ± 0.01 oz of 1.01 oz" in text(panel.list)
    assert "mL" not in re.sub(r"usually.*", "", text(panel.held))


def test_the_form_asks_for_what_its_kind_needs(tmp_path):
    panel = measured_panel.panel(tmp_path)
    for kind, sort in measured.SORTS.items():
        panel.kind.value = kind
        assert (panel.of.layout.display is None) == bool(sort.of)
        assert panel.instrument.value == sort.instruments[0].name
        assert panel.what.options
    write(panel, "wash", "whole cow's milk", "141 mL", of="150 mL", with_milk="30 mL")
    assert "Written down" in text(panel.said), text(panel.said)


def test_the_export_is_written_beside(tmp_path):
    panel = measured_panel.panel(tmp_path)
    panel.export_button.click()
    assert "at least one" in text(panel.said)
    write(panel, "acid", "verjus", "33 g/L")
    panel.export_button.click()
    assert list((tmp_path / "exports").glob("*_measurements_01.zip"))


def test_weighings_of_ice_are_listed_and_exported(tmp_path):
    fit = OwnFit("stirred", 1.25, 0.04, 1.3, (10.0, 20.0, 30.0), (12.0, 18.0, 22.0))
    save_fit(tmp_path, fit, drink="a sour", setting={"ice": 150})
    panel = measured_panel.panel(tmp_path)
    assert re.search(r"stirred\s+1\.25\s+4 %\s+1\.3 g\s+3", page(panel)), page(panel)
    assert "Not joined, since the file does not say enough: my_ice_01" in page(panel)  # as an earlier Drinklab wrote it
    known = replace(fit, rule=36.0, usual=30.0)
    save_fit(tmp_path, known, drink="a sour", setting={"ice": 150, "ice_temperature": -2})
    panel = measured_panel.panel(tmp_path)
    assert "my_ice_02" not in page(panel).split("Not joined")[1].split(".")[0]
    assert "a drink that is stirred takes up 8" in page(panel)
    assert re.search(r"melt water\s+stirred\s+30 ± 2\.7 g of 36 g\s+scale", page(panel)), page(panel)
    panel.export_button.click()
    with zipfile.ZipFile(next((tmp_path / "exports").glob("*_measurements_01.zip"))) as file:
        assert json.loads(file.read("my_ice_01.json"))["gained"] == [12.0, 18.0, 22.0]
        told = json.loads(file.read("datapackage.json"))
    assert [one["path"] for one in told["resources"]] == ["measurements.csv", "my_ice_01.json", "my_ice_02.json"]


@pytest.mark.parametrize("bad", ["x,acid\n", "\x00\x01"])
def test_a_damaged_file_is_told_of(tmp_path, bad):
    (tmp_path / measured.OWN_FILE).write_text(bad, encoding="utf-8")
    panel = measured_panel.panel(tmp_path)
    assert "left out until this is mended" in page(panel)
    write(panel, "acid", "verjus", "33 g/L")
    assert "Written down" in text(panel.said), page(panel)
    assert list(tmp_path.glob("my_measurements.damaged-*"))


def test_another_kind_begins_with_an_empty_form(tmp_path):
    """The lesson's case fills in ± 4 g/L: left there, a strength by hydrometer was refused for it."""
    panel = measured_panel.panel(tmp_path)
    panel.show_case(30, 12, 40, 4)
    panel.kind.value = "strength"
    assert (panel.value.value, panel.pm.value) == ("", "")
    write(panel, "strength", "pisco", "41.2 %", instrument="hydrometer")
    assert "Written down" in text(panel.said)
