"""How fast the page of a one-hour session is in a real browser, and how much its callbacks send.

    python benchmarks/pages.py [--repeat 3] [--logbook FOLDER]

A fresh server process and a fresh browser for every cold start; warm is the same page loaded again; the zoom is a real
drag with the mouse. Times are from the request (or the end of the drag) to the traces being drawn.
"""

import argparse
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from footroom.analysis.pipeline import analyze_session
from footroom.logger.logbook import Logbook
from hour import make_hour
from playwright.sync_api import sync_playwright

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
FLAGS += ["--disable-component-update", "--disable-sync"]
DRAWN = "() => document.querySelectorAll('.traces .scatterlayer .trace path.js-line').length >= 2"
WATCH = """() => {
  document.addEventListener('mouseup', () => { window.released = performance.now(); }, { capture: true, once: true });
  new MutationObserver(() => { window.lastChange = performance.now(); }).observe(
    document.querySelector('.traces'), { subtree: true, attributes: true, attributeFilter: ['d'] });
}"""


def served(logbook):
    """A server process of its own and the address it answers at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "footroom", "dashboard", "--logbook", str(logbook), "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    for _ in range(200):
        try:
            urllib.request.urlopen(address, timeout=1).close()
            return process, address
        except OSError:
            if process.poll() is not None:
                raise SystemExit("the dashboard ended at once") from None
            time.sleep(0.1)
    raise SystemExit("the dashboard does not answer")


def loaded(page, address):
    start = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_function(DRAWN, polling=20)
    return time.perf_counter() - start


def zoomed(page):
    """(time [s] from the end of a drag to the last change of the traces, size of the answer [bytes])."""
    page.locator(".traces .nsewdrag").last.scroll_into_view_if_needed()
    box = page.locator(".traces .nsewdrag").last.bounding_box()
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 0.40 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.45 * box["width"], y, steps=5)
    page.evaluate(WATCH)
    with page.expect_response(lambda response: "_dash-update-component" in response.url) as answer:
        page.mouse.up()
    size = len(answer.value.body())
    page.wait_for_timeout(1500)
    return page.evaluate("() => (window.lastChange - window.released) / 1000"), size


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--logbook", type=Path, help="a logbook whose first session is the hour, analysed already")
    given = parser.parse_args()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        raise SystemExit("chromium is not installed: the pages cannot be timed")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = given.logbook
        if folder is None:
            folder = Path(name) / "logbook"
            logbook, session_id, _ = make_hour(folder)
            analyze_session(logbook, session_id)
        session_id = Logbook.open(folder).session_ids()[0]
        cold, warm, zoom, sizes = [], [], [], []
        for _ in range(given.repeat):
            server, address = served(folder)
            browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
            try:
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                answers = []
                page.on("response", lambda r, to=answers: to.append(r) if "_dash-update-component" in r.url else None)
                at = f"{address}/sessions/{session_id}"
                cold.append(loaded(page, at))
                page.wait_for_timeout(500)
                sizes.append(sum(len(answer.body()) for answer in answers))
                warm.append(loaded(page, at))
                page.wait_for_timeout(500)
                seconds, size = zoomed(page)
                zoom.append(seconds)
                sizes[-1] = max(sizes[-1], size)
            finally:
                browser.close()
                server.terminate()
                server.wait()
    for what, found, budget, unit in (
        ("figure, cold (new server, new browser)", statistics.median(cold), 2.5, "s"),
        ("figure, warm", statistics.median(warm), 0.8, "s"),
        ("zoom", statistics.median(zoom), 0.4, "s"),
        ("answers of callbacks, most at once", max(sizes) / 1e6, 0.3, "MB"),
    ):
        print(
            f"{what:<44}{found:>9.2f} {unit:<3} budget {budget:>8.2f} {unit:<3} {'ok' if found <= budget else 'OVER'}"
        )


if __name__ == "__main__":
    main()
