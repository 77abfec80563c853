"""Finished pages handed on: which files those are, the list of them, and a server that gives nothing else.

The ways to ask for what lies elsewhere follow the OWASP testing guide (4.5.1, path traversal) and RFC 9110 for methods
and hosts. Every server here listens on loopback.
"""

from __future__ import annotations

import contextlib
import html
import os
import re
import shutil
import socket
import sys
import threading
import time
from datetime import date
from pathlib import Path

import pytest

from drinklab import cards, classics, logbook, share, trial, writeup
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.share import pages, serving
from drinklab.workbook import launch

TEMPLATES = Path(share.__file__).parents[1] / "templates"
DAY = date(2026, 11, 27)
SECRET = "the key of tonight's tasting"
NASTY = '</script><img src=x onerror=alert(1)> & "q"'


def drink(name: str = "Branch Line", text: str = "45 mL gin\n20 mL lemon juice\n15 mL orgeat") -> trial.Trial:
    return trial.run(Setting(Recipe.parse(text, name=name, technique="shaken"), draws=20))


@pytest.fixture(scope="module")
def bar(tmp_path_factory):
    """A working folder with finished pages, and with what must never leave it."""
    home = tmp_path_factory.mktemp("home")
    folder = home / "my bar"
    writeup.save(drink(), folder, date=DAY)
    writeup.save(drink(NASTY), folder, date=DAY, title="Second")
    share.save_try_page(drink(), folder, date=DAY)
    (folder / "cards").mkdir()
    head = '<!DOCTYPE html><meta name="generator" content="Drinklab 0.1.0">'
    mark = '<meta name="drinklab-page" content="{}">'
    (folder / "cards" / "card.html").write_text(f"{head}{mark.format('bar card')}<title>Card</title>")
    (folder / "worksheet.html").write_text(f"{head}{mark.format('worksheet')}<title>Sums</title>")
    (folder / "key.html").write_text(f"{head}<title>Tasting: the key</title>{SECRET}")
    (folder / "writeups" / "key.html").write_text(f"{head}{mark.format('key')}<title>Key</title>{SECRET}")
    (folder / "00_bench.ipynb").write_text(SECRET)
    (folder / "in_hand.json").write_text(SECRET)
    (folder / "strange.html").write_text(f"<title>of somebody else</title>{SECRET}")
    for hidden in (".drinklab", ".git"):
        (folder / hidden).mkdir()
        (folder / hidden / "page.html").write_text(f"{head}{mark.format('write-up')}{SECRET}")
    (folder / ".hidden.html").write_text(f"{head}{mark.format('write-up')}{SECRET}")
    outside = home / "outside.html"
    outside.write_text(f"{head}{mark.format('write-up')}{SECRET}")
    if hasattr(os, "symlink"):
        (folder / "link.html").symlink_to(outside)
        (folder / "linked").symlink_to(home, target_is_directory=True)
    return folder


@pytest.fixture(scope="module")
def server(bar):
    with serving.Sharing(bar, share.finished(bar), port=0) as made:
        thread = threading.Thread(target=made.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        yield made
        made.shutdown()


def ask(
    server, asked: str | bytes, method: str = "GET", host: str | None = None, more: str = ""
) -> tuple[int, dict, str]:
    """An answer to the very letters that are sent."""
    port = server.server_address[1]
    line = asked if isinstance(asked, bytes) else asked.encode()
    sent = method.encode() + b" " + line + b" HTTP/1.1\r\nHost: " + (host or f"127.0.0.1:{port}").encode() + b"\r\n"
    with socket.create_connection(("127.0.0.1", port), 10) as to:
        to.sendall(sent + more.encode() + b"\r\n")
        got = b"".join(iter(lambda: to.recv(65536), b""))
    head, _, body = got.partition(b"\r\n\r\n")
    lines = head.decode("latin-1").split("\r\n")
    return int(lines[0].split()[1]), dict(one.split(": ", 1) for one in lines[1:]), body.decode()


# --- which files ----------------------------------------------------------------------------------------------


def test_finished_pages_and_nothing_else(bar):
    found = {page.path: page.kind for page in share.finished(bar)}
    assert sorted(found.values()) == ["bar card", "what-if", "worksheet", "write-up", "write-up"]
    assert set(found) >= {"cards/card.html", "worksheet.html"}
    assert not any(word in path for path in found for word in ("key", "link", "strange", "hidden", ".git", ".drinklab"))


def test_a_key_never_says_that_it_may_be_handed_on():
    marked = {path.name for path in TEMPLATES.glob("*.j2") if "drinklab-page" in path.read_text("utf-8")}
    assert {"try_page.html.j2", "card_spec.html.j2", "card_guest.html.j2", "site.html.j2"} <= marked
    assert not [name for name in marked if "key" in name or "plan" in name]
    key = TEMPLATES / "tasting_key.html.j2"
    assert pages.kind_of(key.read_text("utf-8").replace("{{ version }}", "0.1.0")) is None


def test_a_card_is_a_bar_card():
    made = cards.spec_html(cards.spec(drink()))
    assert pages.kind_of(made) == "bar card"


@pytest.mark.parametrize(
    "path",
    ["../outside.html", "writeups/../worksheet.html", "/worksheet.html", "./worksheet.html", "link.html", "linked/outside.html",
     ".hidden.html", ".git/page.html", "key.html", "00_bench.ipynb", "writeups", "", "worksheet.html/", "worksheet.html ",
     "worksheet.html.", "worksheet.html::$DATA", "C:/worksheet.html", "..\\outside.html", "con.html/x.html", "a" * 300 + ".html",
     "worksheet.html\x00", "/".join("a" * 20) + "/x.html"],
)  # fmt: skip
def test_a_path_leads_to_a_finished_page_or_nowhere(bar, path):
    assert share.read_page(bar, path) is None


def test_a_pipe_or_a_link_put_in_its_place_is_no_page(tmp_path):
    (tmp_path / "inner").mkdir()
    share.save_try_page(drink(), tmp_path, date=DAY)
    page = share.finished(tmp_path)[0]
    target = tmp_path / page.path
    aside = tmp_path / "aside.html"
    target.rename(aside)
    if hasattr(os, "mkfifo"):
        os.mkfifo(target)
        assert share.read_page(tmp_path, page.path) is None  # and does not wait for ever
        target.unlink()
    target.symlink_to(aside)
    assert share.read_page(tmp_path, page.path) is None
    target.unlink()
    aside.rename(target)
    assert share.read_page(tmp_path, page.path).title == "Branch Line"


def test_a_folder_without_pages_or_none_at_all(tmp_path):
    with pytest.raises(InputError, match=r"folder is .*finished pages"):
        share.write_site(tmp_path)
    with pytest.raises(InputError, match="folder is"):
        share.finished(tmp_path / "none")


# --- the list -------------------------------------------------------------------------------------------------


def test_a_site_of_a_folder(bar):
    path = share.write_site(bar, title="The Halt", date=DAY)
    text = path.read_text("utf-8")
    for page in share.finished(bar):
        assert f'href="{page.path.replace(" ", "%20")}"' in text
    links = re.findall(r'href="([^"]*)"', text)
    assert all((bar / link).is_file() for link in links)
    text = re.sub(r'data-words="[^"]*"', "", text)
    assert not re.search(r"\w+://|<[^<>]*\bsrc=|url\(|@import", text)
    assert "unsafe" not in re.search(r'Content-Security-Policy" content="([^"]*)', text)[1]
    assert text.count('<circle class="drink"') == 2
    assert text.count('<circle class="classic"') == len(classics.load())
    assert SECRET not in text
    assert share.write_site(bar, title="The Halt", date=DAY) == path, "our own list may be written again"
    assert [page.path for page in share.finished(bar) if "index" in page.path] == []
    path.unlink()


def test_the_table_of_allergens_says_what_is_known(tmp_path):
    plain = drink("Plain", "45 mL gin\n20 mL lemon juice")
    milky = drink("Milky", "45 mL gin\n30 mL cream")
    writeup.save(plain, tmp_path, date=DAY)
    writeup.save(milky, tmp_path, date=DAY)
    text = share.index_html(share.finished(tmp_path), date=DAY)
    table = text[text.index('<h2 id="allergens">') :]
    rows = dict(re.findall(r'dir="auto">(Plain|Milky)</a></th>(.*?)</tr>', table))
    assert 'class="contains">contains' in rows["Milky"]
    assert "contains" not in rows["Plain"]
    assert "none known, not none" in table


def test_a_damaged_write_up_is_listed_and_said_to_be_so(tmp_path):
    writeup.save(drink(), tmp_path, date=DAY)
    broken = next((tmp_path / "writeups").glob("*.html"))
    broken.write_text(broken.read_text("utf-8").replace('"setting"', '"sitting"'), "utf-8")
    text = share.index_html(share.finished(tmp_path), date=DAY)
    assert "is in no picture and no table below" in text
    assert 'class="drink"' not in text.replace("svg .drink", "")


def test_names_never_act_in_the_list(bar):
    text = share.index_html(share.finished(bar), title=NASTY, date=DAY)
    assert len(re.findall(r"<(?:script|img)\b", text)) == 1
    assert html.escape(NASTY, quote=False)[:20] in text


def test_an_index_of_somebody_else_stays(tmp_path):
    share.save_try_page(drink(), tmp_path, date=DAY)
    (tmp_path / "index.html").write_text("<title>mine</title>")
    with pytest.raises(InputError, match="no list of ours"):
        share.write_site(tmp_path)
    assert (tmp_path / "index.html").read_text() == "<title>mine</title>"


# --- the server -----------------------------------------------------------------------------------------------


def test_it_gives_each_page_and_the_list(server, bar):
    status, headers, text = ask(server, "/")
    assert status == 200
    assert "text/html" in headers["Content-Type"]
    for page in share.finished(bar):
        status, headers, got = ask(server, f"/{page.path}?from=phone")
        assert (status, got) == (200, (bar / page.path).read_text("utf-8"))
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Content-Security-Policy"].startswith("default-src 'none'")
        assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
        assert (headers["Server"], headers["Referrer-Policy"]) == ("Drinklab", "no-referrer")
        assert f'href="{page.path}"' in text
        status, headers, body = ask(server, f"/{page.path}", "HEAD")
        assert (status, body, int(headers["Content-Length"])) == (200, "", len(got.encode()))


ELSEWHERE = [
    "/../outside.html", "/writeups/../../outside.html", "/%2e%2e/outside.html", "/%2e%2e%2foutside.html", "/..%2foutside.html",
    "/%252e%252e/outside.html", "/..%5coutside.html", "/..\\outside.html", "/....//outside.html", "/writeups/..;/key.html",
    "/%c0%ae%c0%ae/outside.html", "/..%c0%afoutside.html", "//etc/passwd", "/etc/passwd", "/%2fetc/passwd", "/c:/windows/win.ini",
    "/C:%5cwindows%5cwin.ini", "/%5c%5chost%5cshare", "/worksheet.html::$DATA", "/worksheet.html.", "/worksheet.html%20",
    "/worksheet.html%00", "/worksheet.html/", "/WORKSHEET.HTML/..", "/link.html", "/linked/outside.html", "/linked/", "/.hidden.html",
    "/.git/page.html", "/.drinklab/page.html", "/%2egit/page.html", "/key.html", "/writeups/key.html", "/00_bench.ipynb", "/in_hand.json",
    "/strange.html", "/writeups/", "/writeups", "/cards/", "/~root", "/index.html/..", "http://127.0.0.1/worksheet.html",
    "file:///etc/passwd", "*", "worksheet.html", "/" + "a" * 30_000, "/con", "/nul.html", "/\u202eworksheet.html",
]  # fmt: skip


@pytest.mark.parametrize("path", ELSEWHERE, ids=range(len(ELSEWHERE)))
def test_no_way_of_writing_a_path_leads_elsewhere(server, path):
    for method in ("GET", "HEAD"):
        status, _, text = ask(server, path, method)
        assert status in (400, 404, 414), path
        assert SECRET not in text
        assert "outside" not in text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "X"])
def test_it_can_only_be_read(server, bar, method):
    before = sorted(path.stat().st_mtime_ns for path in bar.rglob("*") if path.is_file())
    status, headers, _ = ask(server, "/worksheet.html", method, more="Content-Length: 3\r\n")
    assert (status, headers["Allow"]) == (405, "GET, HEAD")
    assert sorted(path.stat().st_mtime_ns for path in bar.rglob("*") if path.is_file()) == before


def test_a_name_that_points_here_from_elsewhere_is_not_answered(server):
    assert ask(server, "/", host="evil.example")[0] == 421
    assert ask(server, "/", host="evil.example:80@127.0.0.1")[0] == 421
    assert ask(server, "/", host=f"localhost:{server.server_address[1]}")[0] == 200


def test_what_was_written_later_or_changed_its_kind_is_not_handed_on(bar):
    with serving.Sharing(bar, share.finished(bar), port=0) as made:
        late = bar / "late.html"
        late.write_text((bar / "worksheet.html").read_text())
        assert made.page("worksheet.html")
        assert made.page("late.html") is None
        late.unlink()
        was = (bar / "worksheet.html").read_text()
        (bar / "worksheet.html").write_text(was.replace('"worksheet"', '"key"'))
        assert made.page("worksheet.html") is None
        (bar / "worksheet.html").write_text(was)


def test_slow_phones_do_not_hold_it_up(bar, monkeypatch):
    monkeypatch.setattr(serving, "LONGEST", 1.0)
    with serving.Sharing(bar, share.finished(bar), port=0) as made, contextlib.ExitStack() as open_:
        threading.Thread(target=made.serve_forever, args=(0.02,), daemon=True).start()
        slow = [
            open_.enter_context(socket.create_connection(made.server_address, 10))
            for _ in range(serving.MOST_OF_ONE + 4)
        ]
        for one in slow:
            with contextlib.suppress(OSError):
                one.sendall(b"GET / HT")
        if sys.platform == "linux":  # where each address of 127.0.0.0/8 is this computer: another phone
            with socket.create_connection(made.server_address, 10, source_address=("127.0.0.2", 0)) as other:
                other.sendall(
                    f"GET /worksheet.html HTTP/1.1\r\nHost: 127.0.0.1:{made.server_address[1]}\r\n\r\n".encode()
                )
                assert other.recv(65536).startswith(b"HTTP/1.1 200")
        until = time.monotonic() + 10
        while made._clients["127.0.0.1"] > 0 and time.monotonic() < until:
            for one in slow:  # a byte now and then, as the patient kind does
                with contextlib.suppress(OSError):
                    one.sendall(b"x")
            time.sleep(0.1)
        assert not made._clients["127.0.0.1"], "each is cut off after so long, however patient"
        assert ask(made, "/worksheet.html")[0] == 200
        assert threading.active_count() < 30
        made.shutdown()


# --- which network, and the command ----------------------------------------------------------------------------


def test_it_listens_on_loopback_until_a_network_is_named(bar):
    with serving.sharing(bar, share.finished(bar)) as made:
        assert made.server_address[0] == "127.0.0.1"
    with serving.sharing(bar, share.finished(bar), "127.0.0.0/8") as made:
        assert (made.server_address[0], str(made.network)) == ("127.0.0.1", "127.0.0.0/8")
        assert not made.verify_request(None, ("192.168.1.7", 1))
        assert made.verify_request(None, ("127.0.0.9", 1))


@pytest.mark.parametrize(
    "given",
    ["0.0.0.0", "0.0.0.0/0", "::", "8.8.8.8", "203.0.114.0/24", "224.0.0.1", "bar", "", "192.168.1", "127.0.0.1/8/8"],
)
def test_only_a_network_of_ones_own(given):
    with pytest.raises(InputError, match="--network is"):
        serving.named_network(given)


def test_a_network_that_this_computer_is_not_in():
    unused = next(
        net for net in ("10.251.7.0/24", "10.252.7.0/24") if not any(net[:8] in own for own in serving.own_addresses())
    )
    with pytest.raises(InputError, match="this computer is in"):
        serving.named_network(unused)


def test_the_command_says_first_what_it_hands_on_and_ends_by_ctrl_c(bar, capsys, monkeypatch):
    said = []

    def interrupted(self, poll_interval):
        said.append(capsys.readouterr().out)
        raise KeyboardInterrupt

    monkeypatch.setattr(serving.Sharing, "serve_forever", interrupted)
    assert launch.main(["share", str(bar)]) == 0
    before, after = said[0], capsys.readouterr().out
    assert "http://127.0.0.1:" in before
    assert "Only this computer can open it" in before
    assert "--network" in before
    for page in share.finished(bar):
        assert page.path in before
    assert "key.html" not in before
    assert "Nothing is shared any more" in after


def test_the_command_writes_a_site_or_says_what_is_wrong(bar, tmp_path, capsys):
    assert launch.main(["share", str(bar), "--site"]) == 0
    (bar / "index.html").unlink()
    assert launch.main(["share", str(tmp_path), "--try", "Daikiri"]) == 2
    assert "did you mean Daiquiri" in capsys.readouterr().err
    saved = logbook.save(drink("From the logbook"), tmp_path / "bar")
    for name in ("Daiquiri", "First Frost", saved.name):
        assert launch.main(["share", str(tmp_path / "bar"), "--try", name]) == 0
    assert [page.title for page in share.finished(tmp_path / "bar")] == ["Daiquiri", "First Frost", "From the logbook"]
    shutil.rmtree(tmp_path / "bar")
    assert launch.main(["share", str(tmp_path)]) == 2
    assert "one with finished pages in it" in capsys.readouterr().err
    assert launch.main(["share", str(bar), "--network", "0.0.0.0"]) == 2
    assert "--network is '0.0.0.0'" in capsys.readouterr().err
    assert launch.main(["share", str(bar), "--port", "99999999"]) == 2
    assert "--port" in capsys.readouterr().err
