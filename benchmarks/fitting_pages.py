"""How fast the pages of a fitting are in a real browser, and from a slider's move to the redrawn page.

    python benchmarks/fitting_pages.py [--moves 30]

One person with two analysed evenings and three set-ups. A move is one press of an arrow key on a slider; it ends with
the last change of drawings, map and readings (in the page's own time). Median and 90th percentile over all sliders.
"""

import argparse
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from fitting_logbook import write_fitting_logbook
from pages import FLAGS, served
from playwright.sync_api import sync_playwright

BUDGET_S = {"/range": 0.8, "/setup": 0.8, "/placement": 1.2}
SLIDER_BUDGET_S = 0.2
WATCH = """() => {
  window.moves = [];
  document.addEventListener('keydown', () => {
    window.moves.push({ from: performance.now(), to: null, side: false, map: false });
  }, true);
  const seen = (what) => () => {
    const last = window.moves[window.moves.length - 1];
    if (last) { last.to = performance.now(); last[what] = true; }
  };
  const all = { subtree: true, childList: true, attributes: true, characterData: true };
  new MutationObserver(seen('side')).observe(document.querySelector('#try-side'), all);
  new MutationObserver(seen('side')).observe(document.querySelector('#try-top'), all);
  new MutationObserver(seen('map')).observe(document.querySelector('#try-map'), all);
  new MutationObserver(seen('side')).observe(document.querySelector('#try-reading'), all);
}"""


def loaded(page, address):
    """Seconds from the request to the heading and, where there is one, the map."""
    start = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.locator("main h1").wait_for()
    if "/placement" in address:
        page.locator("#try-map .contourlayer path").first.wait_for(state="attached")
    return time.perf_counter() - start


def moved(page, moves):
    """Seconds of each move, over all sliders in turn."""
    sliders = page.get_by_role("slider")
    page.evaluate(WATCH)
    for number in range(moves):
        sliders.nth(number % sliders.count()).focus()
        page.keyboard.press("ArrowRight" if number // sliders.count() % 2 == 0 else "ArrowLeft")
        page.wait_for_timeout(700)
    found = page.evaluate("window.moves")
    return [(one["to"] - one["from"]) / 1000 for one in found if one["to"] is not None and one["side"]]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--moves", type=int, default=30)
    given = parser.parse_args()
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        raise SystemExit("chromium is not installed: the pages cannot be timed")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        server, address = served(write_fitting_logbook(Path(name) / "logbook"))
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        try:
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            loaded(page, f"{address}/setup?participant=siskin")
            for path, budget in BUDGET_S.items():
                took = statistics.median(loaded(page, f"{address}{path}?participant=siskin") for _ in range(3))
                tell(f"{path}, warm", took, budget)
            loaded(page, f"{address}/placement?participant=siskin&setup=far")
            page.wait_for_timeout(1500)
            took = sorted(moved(page, given.moves))
            tell(f"slider to redrawn page, median of {len(took)}", statistics.median(took), SLIDER_BUDGET_S)
            tell("slider to redrawn page, 90th percentile", took[int(0.9 * (len(took) - 1))], SLIDER_BUDGET_S)
        finally:
            browser.close()
            server.terminate()
            server.wait()


def tell(what, found, budget):
    print(f"{what:<44}{found:>9.3f} s   budget {budget:>6.2f} s   {'ok' if found <= budget else 'OVER'}")


if __name__ == "__main__":
    main()
