"""A browser for the tests and for the benchmark of opening, and a plain JupyterLab beside the workbook."""

from __future__ import annotations

import contextlib
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

# What Playwright turns off itself (a switch given twice counts once, the last), and the pages that Chromium keeps ready
# behind its address bar for each window: a tenth of what opening one of ours costs.
OFF = """AvoidUnnecessaryBeforeUnloadCheckSync DestroyProfileOnBrowserClose HttpsUpgrades HttpsFirstBalancedModeAutoEnable
LensOverlay MediaRouter PaintHolding ThirdPartyStoragePartitioning AvoidCorsURLLoaderRestartOnRedirect
TcpPortRandomizationWin OptimizationHints NetworkTimeServiceQuerying AimEnabled PreconnectToSearch
WebUIOmniboxPopup WebUIOmniboxAimPopup WebUIOmniboxFullPopup PreloadTopChromeWebUI"""

FLAGS = [
    f"--disable-features={','.join(OFF.split())}",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
]


def chromium() -> str | None:
    """Where it is, if it is."""
    names = ("chromium", "chromium-browser", "google-chrome")
    return next((found for name in names if (found := shutil.which(name))), None)


# Presses a slider's key again and again; milliseconds until number and chart have changed and been painted (0: not at
# all). The slider by its place among those of that panel that are seen, or by a word beside it.
PRESS = """async ([panels, number, times, label]) => {
  const panel = document.querySelectorAll(panels)[number];
  const dial = label && [...panel.querySelectorAll(".widget-hbox")].filter(box => box.innerText.includes(label)).pop();
  const handle = [...(dial ?? panel).querySelectorAll(".noUi-handle")].find(one => one.checkVisibility());
  handle.scrollIntoView({block: "center"}); handle.focus();
  await new Promise(go => setTimeout(go, 500));
  const tiles = panel.querySelector(".dl-tiles, .dl-table")?.closest(".widget-html");
  const places = {number: tiles ?? panel.querySelector(".bare-said"), chart: panel.querySelector(".drinklab-chart svg")};
  const out = {number: [], chart: []};
  for (let i = 0; i < times; i++) {
    const start = performance.now();
    const changed = Object.entries(places).map(([name, place]) => place && new Promise(done => {
      const watch = new MutationObserver(() => {
        watch.disconnect();
        requestAnimationFrame(() => setTimeout(() => done(out[name].push(performance.now() - start))));
      });
      watch.observe(place, {subtree: true, childList: true, attributes: true, characterData: true});
      setTimeout(() => { watch.disconnect(); done(); }, 2000);
    }));
    handle.dispatchEvent(new KeyboardEvent("keydown", {key: i % 2 ? "ArrowLeft" : "ArrowRight", bubbles: true}));
    await Promise.all(changed);
    for (const [name, place] of Object.entries(places)) if (place && out[name].length <= i) out[name].push(0);
    await new Promise(go => setTimeout(go, 250));
  }
  return out;
}"""


def unfold(page, title: str) -> None:
    """Open what is folded under a line, if it is shut."""
    line = page.locator(".dl-fold .jupyter-widget-Collapse-header", has_text=title).first
    if line.get_attribute("aria-expanded") != "true":
        line.click()


def becomes(page, read: Callable[[], object], wanted, seconds: float = 30) -> None:
    """Wait until what is read is what is wanted, however busy the machine is; it must still be so a moment later."""
    until = time.monotonic() + seconds
    while (found := read()) != wanted and time.monotonic() < until:
        page.wait_for_timeout(100)
    page.wait_for_timeout(300)
    found = read()
    assert found == wanted, f"{found!r} in place of {wanted!r}"


def barriers(page) -> list[tuple[str, str]]:
    """What axe (Deque's rules of WCAG, as its package brings them) finds critical or serious inside our panels."""
    import axe_playwright_python

    # Until names and roles stand on what was drawn last: a page gives them in its first idle moment, and these run in turn.
    page.evaluate("() => new Promise(then => setTimeout(() => requestIdleCallback(then), 400))")
    page.evaluate(Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate("""async () => {
      const told = await axe.run({include: [[".dl-bench"]]}, {resultTypes: ["violations"]});
      return told.violations.flatMap(v => v.nodes.map(n => [v.impact, `${v.id}: ${n.html.slice(0, 160)}`]));
    }""")
    return [(impact, where) for impact, where in found if impact in ("critical", "serious")]


@contextlib.contextmanager
def plain_jupyterlab(folder: Path, env: dict[str, str]) -> Iterator[str]:
    """JupyterLab without anything of ours; gives its address, whose token is "plain"."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", f"--ServerApp.port={port}"]
    command += [f"--ServerApp.root_dir={folder}", "--IdentityProvider.token=plain", "--ServerApp.log_level=ERROR"]
    address = f"http://127.0.0.1:{port}/"
    with subprocess.Popen(command, env=env) as process:
        try:
            until = time.monotonic() + 60
            while True:
                try:
                    urllib.request.urlopen(f"{address}api?token=plain", timeout=5).close()
                    break
                except OSError:
                    assert time.monotonic() < until
                    time.sleep(0.2)
            yield address
        finally:
            process.kill()
