"""The house drink of the demo whole: one chain of cells, one write-up, which can be run again."""

import json
from pathlib import Path

import pytest

from drinklab import strength, writeup
from drinklab.errors import InputError

NOTEBOOK = Path(__file__).parents[1] / "notebooks" / "07_low_tide.ipynb"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """What the notebook's cells leave behind, run in a row in an empty folder."""
    patch = pytest.MonkeyPatch()
    patch.chdir(folder := tmp_path_factory.mktemp("bench"))
    names = {}
    for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    yield names | {"folder": folder}
    patch.undo()


def test_every_stage_from_mixing_to_the_glass(made):
    stages = made["low_tide"].stages
    names = ["mixed", "milk-washed", "filtered", "chilled", "carbonated", "served"]
    assert [stage.name for stage in stages] == names
    washed, filtered, gassed = (stages[i].liquid[0] for i in (1, 2, 4))
    # Alcohol is lost to curd and paper only, lactose comes with the milk, and gas only adds to the mass.
    assert washed.ethanol < stages[0].liquid[0].ethanol
    assert filtered.lactose > 0
    # 412 mL of milk bring 13.3 g of protein (USDA SR28 01077); a fifth of it is whey, and stays.
    assert filtered.protein < made["mixed"].protein + 0.25 * 13.3
    assert gassed.mass - gassed.co2 == pytest.approx(filtered.mass)
    assert stages[-1].profile.volume == pytest.approx(150)


def test_the_page_runs_again_and_tells_of_the_jelly(made):
    page = Path(made["folder"]) / made["page"]
    assert writeup.rerun(page).stages == made["low_tide"].stages
    text = page.read_text(encoding="utf-8")
    for said in ("grapefruit jelly", "milk", "Gas pressure", "Choking", "carbonated", "stays declared"):
        assert said in text
    alone = strength.standard_drinks(made["jelly"].piece_alcohol, "United States")
    assert alone == pytest.approx(made["jelly"].piece_drinks)


def test_a_step_that_a_page_does_not_know_is_one_sentence(made, tmp_path):
    text = (Path(made["folder"]) / made["page"]).read_text(encoding="utf-8")
    damaged = text.replace('"milk wash"', '"moon wash"')
    assert damaged != text
    with pytest.raises(InputError, match="step is 'moon wash'"):
        writeup.rerun(damaged)
