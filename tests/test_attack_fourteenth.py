"""A fourteenth attack: what a notebook of another hand brings with it, and what a folder of one's own goes through.

Each test failed before it was mended.
"""

from __future__ import annotations

import json
import urllib.request

import nbformat
from nbformat import v4

from drinklab.workbook import server

WIDGETS = "application/vnd.jupyter.widget-state+json"


def _asked(started, method, path, data=None):
    request = urllib.request.Request(
        started.page + path,
        None if data is None else json.dumps(data).encode(),
        {"Authorization": f"token {started.token}"},
        method=method,
    )
    with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=30) as answer:
        return json.loads(answer.read())


def test_widgets_of_a_stranger_do_not_reach_the_page_and_stay_in_the_file(start, environment, home):
    bar = home / "bar"
    bar.mkdir()
    held = {WIDGETS: {"version_major": 2, "version_minor": 0, "state": {}}, "other": {}}
    for name, cells in {"code": [v4.new_code_cell("1")], "words": [v4.new_markdown_cell("Hello")]}.items():
        nbformat.write(v4.new_notebook(metadata={"widgets": held}, cells=cells), bar / f"{name}.ipynb")
    with start(bar, "--no-browser", env=environment(home)) as started:
        for name in ("code", "words"):
            for _ in range(2):  # a save of what nobody has run makes it no more ours
                model = _asked(started, "GET", f"api/contents/{name}.ipynb?type=notebook")
                assert WIDGETS not in model["content"]["metadata"]["widgets"]
                sent = {"type": "notebook", "format": "json", "content": model["content"]}
                _asked(started, "PUT", f"api/contents/{name}.ipynb", sent)
                assert nbformat.read(bar / f"{name}.ipynb", 4).metadata.widgets == held
        # Run by the person, in every cell, it is theirs.
        book = _asked(started, "GET", "api/contents/code.ipynb")["content"]
        book["cells"][0]["metadata"]["trusted"] = True
        _asked(started, "PUT", "api/contents/code.ipynb", {"type": "notebook", "format": "json", "content": book})
        model = _asked(started, "GET", "api/contents/code.ipynb")
        assert WIDGETS in model["content"]["metadata"]["widgets"]


def test_widgets_of_an_odd_shape_are_no_failure():
    for odd in (None, [], "x", {}):
        book = v4.new_notebook(cells=[v4.new_code_cell("1")])
        book.metadata["widgets"] = odd
        server.Notary().mark_cells(book, False)
        assert book.metadata["widgets"] == odd


def test_a_page_asks_no_other_computer_for_anything(start, environment, home):
    (home / "bar").mkdir()
    (home / "bar/sent.html").write_text("<img src='https://elsewhere.example/'>")
    with start(home / "bar", "--no-browser", env=environment(home)) as started:
        policies = {}
        for path in ("lab", "files/sent.html", "api/contents"):
            policies[path] = started.ask(path).headers["Content-Security-Policy"].split(", ")
            # CSP3 3.1: each policy of the list counts; 2.2.1: of one name in a policy the first counts.
            first = dict(part.strip().partition(" ")[::2] for part in reversed(policies[path][0].split(";")))
            assert first["default-src"] == "'self' 'unsafe-inline' 'unsafe-eval' data: blob:"
            assert "http" not in policies[path][0]
        assert policies["files/sent.html"][1].endswith("; sandbox allow-scripts")
        assert policies["api/contents"][1].endswith("; default-src 'none'")
        assert all(one[1].startswith("frame-ancestors 'self'") for one in policies.values())
