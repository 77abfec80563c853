"""A written file as a link of the page: where JupyterLab serves it, and never out of the working folder.

JupyterLab serves the files of its folder under `files/` (Jupyter Server's documentation, "The REST API and handlers",
from memory; a running workbook answered so).
"""

import re

import pytest

from drinklab import cost
from drinklab.logbook import save
from drinklab.workbook.panels import batch, bench, logbook, service, tasting
from drinklab.workbook.parts.links import link, notebook, written


@pytest.fixture
def folder(tmp_path):
    (tmp_path / ".drinklab").mkdir()
    (tmp_path / "cards").mkdir()
    return tmp_path


def test_a_file_of_the_folder_is_a_link(folder, monkeypatch):
    page = folder / "cards" / "½ & <b> 1.html"
    page.touch()
    said = link(page)
    assert 'href="/files/cards/%C2%BD%20%26%20%3Cb%3E%201.html"' in said
    assert "½ &amp; &lt;b&gt; 1.html</a>" in said
    assert 'rel="noopener"' in said
    monkeypatch.chdir(folder)
    assert link("cards/½ & <b> 1.html") == said
    monkeypatch.setenv("JUPYTERHUB_SERVICE_PREFIX", "/user/halt/")
    assert 'href="/user/halt/files/cards/' in link(page)
    assert written("In it: ", [page, page], ".").count("<a ") == 2


def test_what_is_not_served_is_named_alone(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "x.html"
    outside.touch()
    (folder / "cards" / "out.html").symlink_to(outside)
    (folder / ".hidden.html").touch()
    (folder / ".drinklab" / "log.html").touch()
    for path in (outside, folder / "cards/out.html", folder / ".hidden.html", folder / ".drinklab/log.html",
                 folder / "none.html", folder / "cards" / ".." / ".." / outside.parent.name / "x.html"):  # fmt: skip
        assert link(path) == path.name


def _links(said: str) -> list[str]:
    return re.findall(r'href="/files/([^"]*)"', said)


def test_every_page_that_writes_shows_links(folder):
    """Cards, labels, menu, batch sheets, shopping lists, tasting sheets, backups and exports."""
    here = service.panel(folder)
    for press in (here.write_spec, here.write_guest, here.write_labels):
        press()
        assert _links(here.said.value), here.said.value
        assert all((folder / href).is_file() for href in _links(here.said.value))
    made = batch.panel(folder)
    made.save()
    assert _links(made.said.value)
    made.keep()
    made.save_list()
    assert _links(made.said.value)
    sheets = tasting.panel(folder)
    sheets.write()
    assert len(_links(sheets.said.value)) == 3, sheets.said.value
    save(here.made, folder)
    book = logbook.panel(folder)
    for press in (book.back_up, book.export):
        press()
        assert _links(book.said.value), book.said.value


def test_a_notebook_opens_in_the_workbook(folder):
    assert notebook(folder, "08_tasting") == "08_tasting"  # not there: named alone
    (folder / "08_tasting.ipynb").touch()
    assert 'href="/lab/tree/08_tasting.ipynb"' in notebook(folder, "08_tasting")


def test_the_cost_of_a_serve_stands_in_a_write_up_only_where_it_is_wished_for(tmp_path):
    page = bench.panel(tmp_path)
    page.write_up()
    page.published.more.selected_index = 0
    page.published.costs.value = True
    page.write_up()
    assert "Price list is not there yet" in page.said.value
    cost.write(tmp_path, {"ingredient": "pisco", "currency": "EUR", "price": "21", "pack": "700", "pack_unit": "mL"})
    page.write_up()
    first, second = sorted((tmp_path / "writeups").glob("*.html"))
    assert "a serve, without" not in first.read_text(encoding="utf-8")
    # By hand: 55 mL at 21 for 700 mL is 1.65; the rest has no price.
    assert re.search(r"At least (EUR|€)\s?1\.65[^<]* a serve, without [^<]*verjus", second.read_text(encoding="utf-8"))
