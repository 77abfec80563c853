"""A sixth attack, on what came since the fifth: pages printed, made into notebooks, taken along and handed on."""

import json
import stat
import sys

import pytest

from drinklab import trial, writeup
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.writeup.pdf import browser

# --- a stranger's write-up -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["{title}", "{file}{title}", "a'{title}\"b", "{{title}}"])
def test_no_name_of_a_page_makes_the_drinks_name_code(tmp_path, name):
    """In a page called {title}.html the drink's name was put into a string of the notebook's code."""
    odd = "';raise SystemError('ran')#{file}{title}\n# {title}"
    page = tmp_path / f"{name}.html"
    page.write_text(writeup.html(trial.run(Recipe.parse("60 mL gin, 40 %", name=odd), draws=0)), encoding="utf-8")
    cells = json.loads(writeup.notebook(page).read_text(encoding="utf-8"))["cells"]
    code = next(cell["source"] for cell in cells if cell["cell_type"] == "code")
    line = next(line for line in code.splitlines() if line.startswith("page = "))
    names = {}
    exec(line, names)
    assert names["page"] == page.name


def test_a_drinks_name_is_plain_text_in_a_notebook(tmp_path):
    odd = "!\\[seen](http\u200b://x) <img src=x> $\\href{javascript:alert(1)}{x}$ `a` http://x.example"
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name=odd), draws=0), tmp_path)
    title = json.loads(writeup.notebook(page).read_text(encoding="utf-8"))["cells"][0]["source"].splitlines()[0]
    assert "\\$\\\\href" in title and "\\<img" in title and "\\`a\\`" in title and "!\\\\\\[seen]" in title
    assert "http\\://x.example" in title


def _prints(tmp_path, monkeypatch):
    """A browser that gives back the page which it was to print."""
    if sys.platform == "win32":
        pytest.skip("a shell's script")
    program = tmp_path / "browser"
    program.write_text(
        '#!/bin/sh\nfor a; do case "$a" in --print-to-pdf=*) out="${a#--print-to-pdf=}";; file://*) page="${a#file://}";; '
        'esac; done\n{ printf "%%PDF"; cat "$page"; } > "$out"\n'
    )
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(sys.modules["drinklab.writeup.pdf"], "browser", lambda: str(program))


def test_a_page_is_printed_under_a_policy_of_ours(tmp_path, monkeypatch):
    """Printed from disk, a stranger's page could take any file of the person's into the PDF."""
    _prints(tmp_path, monkeypatch)
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name="<meta> http-equiv"), draws=0), tmp_path)
    held = writeup.pdf(page).read_bytes()
    begin = b'%PDF\xef\xbb\xbf<!doctype html><meta http-equiv="Content-Security-Policy" content="default-src \'none\';'
    assert held.startswith(begin)
    assert b"script-src" not in held[:300]


@pytest.mark.parametrize(
    "more",
    [
        '<meta http-equiv="refresh" content="0;url=file:///etc/passwd">',
        '<META/http-equiv=refresh content="0;url=file:///etc/passwd">',
        '<meta name="x" http-equiv="refresh" content="0;url=file:///etc/passwd">',
        '<meta name="a <meta charset="utf-8">',
        '<meta charset="iso-2022-jp">',
    ],
)
def test_a_page_that_goes_on_to_another_is_not_printed(tmp_path, monkeypatch, more):
    _prints(tmp_path, monkeypatch)
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %"), draws=0), tmp_path)
    text = page.read_text(encoding="utf-8")
    page.write_text(text.replace("<title>", f"{more}<title>", 1), encoding="utf-8")
    with pytest.raises(InputError, match="page to print is another's, or damaged"):
        writeup.pdf(page)
    page.write_text("any text", encoding="utf-8")
    with pytest.raises(InputError, match="page to print is another's, or damaged"):
        writeup.pdf(page)


@pytest.mark.skipif(browser() is None, reason="no browser of the Chromium family")
def test_no_file_of_the_persons_comes_into_a_strangers_pdf(tmp_path):
    import pypdf

    secret = tmp_path / "letter.txt"
    secret.write_text("HIDDENLETTER")
    page, _ = writeup.save(trial.run(Recipe.parse("60 mL gin, 40 %", name="Salt"), draws=0), tmp_path)
    text = page.read_text(encoding="utf-8")
    policy = text.index('<meta http-equiv="Content-Security-Policy"')
    text = text[:policy] + text[text.index(">", policy) + 1 :]
    address = secret.as_uri()
    text = text.replace(
        "<body>",
        f'<body><iframe src="{address}"></iframe><object data="{address}"></object><embed src="{address}">'
        f'<script>document.body.prepend("SCRIPTRAN");location="{address}"</script>',
        1,
    )
    page.write_text(text, encoding="utf-8")
    said = " ".join(one.extract_text() for one in pypdf.PdfReader(writeup.pdf(page)).pages)
    assert "Salt" in said and "HIDDENLETTER" not in said and "SCRIPTRAN" not in said
