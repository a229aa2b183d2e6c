"""The pages in a real Chromium: width, caution, keyboard, print, zoom; nothing is asked of any other computer."""

from __future__ import annotations

import re

import pytest
from dashboard_logbook import write_logbook
from footroom.dashboard.app import create_app, page_at
from footroom.dashboard.store import Store
from footroom.dashboard.wording import CAUTION
from footroom.logger.cautions import LOCAL_RULES
from footroom.logger.logbook import Logbook

pytest_plugins = ("pages_in_browser",)

SESSION = "/sessions/wren-2026-11-17"
PAGES = ["/", "/?participant=wren", "/sessions", "/sessions?participant=wren", SESSION]
PAGES += ["/sessions/lark-2026-11-10", "/sessions/nobody-2026-01-01", "/no/such/page"]


@pytest.fixture(scope="module")
def logbook(tmp_path_factory):
    return write_logbook(tmp_path_factory.mktemp("pages") / "evening-class")


@pytest.fixture(scope="module")
def address(serve, logbook):
    return serve(logbook)


@pytest.fixture
def open_page(browser):
    """Open pages at a width; afterwards nothing may have gone off this computer or been complained of."""
    contexts, off_host, complaints = [], [], []

    def guard(route):
        if route.request.url.startswith(("http://127.0.0.1:", "data:", "blob:")):
            route.continue_()
        else:
            off_host.append(route.request.url)
            route.abort()

    def start(url, width=1280):
        context = browser.new_context(viewport={"width": width, "height": 900})
        contexts.append(context)
        context.route("**/*", guard)
        page = context.new_page()
        page.set_default_timeout(60_000)
        page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(url)
        page.locator("main h1").wait_for()
        return page

    yield start
    for context in contexts:
        context.close()
    assert off_host == []
    assert complaints == []


def settled(page, path):
    if path == SESSION:
        page.locator(".traces .scatterlayer .trace").first.wait_for(state="attached")
    if path == "/?participant=wren":
        page.locator(".card .barlayer .trace").first.wait_for(state="attached")
    page.wait_for_timeout(300)


@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_its_width_and_shows_the_caution(open_page, address, path, width):
    page = open_page(address + path, width)
    settled(page, path)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.locator("#caution").is_visible() and page.locator("#caution").inner_text() == f"{CAUTION} {LOCAL_RULES}"
    assert page.locator("h1").count() == 1
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.title().endswith("· Footroom")


def test_the_answer_comes_first_in_plain_words(open_page, address):
    page = open_page(address + "/?participant=wren", 360)
    lead = page.locator(".lead").first.inner_text().replace("\N{NO-BREAK SPACE}", " ")
    assert lead.startswith("‘far’ and ‘wide’ left your right ankle clearly more room for lifting the toes than ‘near’")
    amount = page.locator(".also li").first.inner_text()
    assert amount.startswith("With the pedal 4 cm farther (‘far’) your right ankle kept 4.")
    assert "degrees more room for lifting the toes than with ‘near’: a clear difference" in amount
    assert page.locator("main h2").first.inner_text() == "In short"
    assert page.locator("main .card h3").all_inner_texts()[0].startswith("Right ankle, toes up")


def test_people_are_chosen_one_at_a_time_and_never_shown_together(open_page, address):
    page = open_page(address + "/?participant=wren")
    assert "lark" not in page.locator("main").inner_text()
    page.get_by_role("textbox", name="Participant").click()
    page.get_by_role("option", name="lark").click()
    page.locator("main p", has_text="lark: 1 session").wait_for()
    assert page.url.endswith("?participant=lark")
    assert "wren" not in page.locator("main .page-head p").inner_text()
    assert page.locator("main h2").first.inner_text() == "Not analysed yet"
    assert "footroom analyze" in page.locator("pre").inner_text()


def test_the_keyboard_reaches_every_control_in_order(open_page, address):
    page = open_page(address + SESSION)
    settled(page, SESSION)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "skip"
    assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
    seen = []
    for _ in range(30):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.id || document.activeElement.textContent"))
        style = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert style == "solid", seen[-1]
        if seen[-1].startswith("The 5 phases"):
            break
    names = ["Footroom", "Set-ups", "Sessions (this page)", "All sessions", "trace-view", "trace-part"]
    assert [name for name in seen if name in names] == names
    assert seen[-1].startswith("The 5 phases")


def test_the_skip_link_leads_to_the_content(open_page, address):
    page = open_page(address + "/")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    assert page.locator("main h1").is_visible()


def test_after_a_link_the_heading_of_the_new_page_has_the_focus(open_page, address):
    page = open_page(address + "/?participant=wren")
    page.get_by_role("link", name="Sessions", exact=True).click()
    page.locator("h1", has_text="Sessions").wait_for()
    page.wait_for_function("document.activeElement.tagName === 'H1'")
    assert page.evaluate("document.activeElement.textContent") == "Sessions"


def test_a_folded_line_opens_by_keyboard_and_draws_its_figure(open_page, address):
    page = open_page(address + "/?participant=wren", 360)
    line = page.locator(".fold summary").filter(has_text="Right ankle, toes down").first
    assert "median room near 4" in line.inner_text()
    line.focus()
    page.keyboard.press("Enter")
    page.locator(".fold[open] .barlayer .trace").first.wait_for(state="attached")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_zoom_brings_finer_samples_and_a_double_click_brings_all_back(open_page, address):
    page = open_page(address + SESSION)
    settled(page, SESSION)
    shown = "document.querySelector('.traces .js-plotly-plot')._fullData[0].x"
    span = f"{shown}[{shown}.length - 1] - {shown}[0]"
    assert page.evaluate(span) == pytest.approx(450, abs=1)
    page.locator(".traces .nsewdrag").nth(1).scroll_into_view_if_needed()
    box = page.locator(".traces .nsewdrag").nth(1).bounding_box()
    page.mouse.move(box["x"] + 300, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 350, box["y"] + 61, steps=4)
    page.mouse.move(box["x"] + 400, box["y"] + 61)
    page.mouse.up()
    page.wait_for_function(f"{span} < 60")
    assert page.evaluate(span) == pytest.approx(450 * 100 / box["width"], rel=0.1)
    page.mouse.dblclick(box["x"] + 300, box["y"] + 60)
    page.wait_for_function(f"{span} > 440")


def test_a_part_is_chosen_without_a_mouse(open_page, address):
    page = open_page(address + SESSION)
    settled(page, SESSION)
    page.locator("#trace-part").focus()
    for key in ("Enter", "ArrowDown", "ArrowDown", "Enter"):
        page.keyboard.press(key)
        page.wait_for_timeout(150)
    chosen = page.locator("#trace-part").input_value()
    start = {"‘near’, 1:00 to 3:00": 60, "‘far’, 3:10 to 5:10": 190}[chosen]
    shown = "document.querySelector('.traces .js-plotly-plot')._fullLayout.xaxis.range"
    page.wait_for_function(f"Math.abs({shown}[0] - {start}) < 1 && Math.abs({shown}[1] - {start + 120}) < 1")


def test_gaps_are_left_blank_and_quality_is_told_in_words(open_page, address):
    page = open_page(address + SESSION)
    settled(page, SESSION)
    words = page.locator("main").inner_text().replace("\N{NO-BREAK SPACE}", " ")
    assert "look at this" in words
    assert "The clip on the right shank turned on the leg by about 6° near 5:00" in words
    assert "The clip on the right foot recorded nothing from 3:20 to 3:40 (20 s)" in words
    assert "Right hip, turned inward (internal rotation): no hip rotation moves were recorded" in words
    xs = "document.querySelector('.traces .js-plotly-plot')._fullData[0].x"
    assert page.evaluate(f"Array.from({xs}).filter(x => x > 200.5 && x < 219.5).length") == 0


def test_a_verdict_prints_what_was_opened_and_keeps_the_caution(open_page, address):
    page = open_page(address + "/?participant=wren")
    settled(page, "/?participant=wren")
    page.emulate_media(media="print")
    assert page.locator("#caution").is_visible()
    assert not page.locator("nav").is_visible()
    reasons, line = page.locator(".card .rests li").first, page.locator(".fold").first
    assert not reasons.is_visible()
    assert line.locator(".finding").is_visible()
    assert not line.locator("table").is_visible()
    assert page.locator(".card .numbers tbody td").first.is_visible()
    page.emulate_media(media="screen")
    page.locator(".card .rests summary").first.click()
    page.emulate_media(media="print")
    assert reasons.is_visible()


def test_a_verdict_needs_few_sheets(open_page, address):
    """Three set-ups, both feet: two sheets with our fonts, and one more where letters are wider."""
    page = open_page(address + "/?participant=wren")
    settled(page, "/?participant=wren")
    assert len(re.findall(rb"/Type /Page\b", page.pdf(format="A4"))) <= 3


def test_print_leaves_out_what_was_never_fetched(open_page, address):
    page = open_page(address + SESSION)
    fold = page.locator(".every").first
    fold.wait_for()
    page.emulate_media(media="print")
    assert not fold.is_visible()
    page.emulate_media(media="screen")
    fold.locator("summary").click()
    fold.locator("table").first.wait_for()
    page.emulate_media(media="print")
    assert fold.locator("table").first.is_visible()


def test_a_logbook_without_sessions_says_what_to_do(open_page, serve, tmp_path):
    Logbook.create(tmp_path / "empty")
    page = open_page(serve(tmp_path / "empty") + "/", 360)
    assert page.locator("main h2").inner_text() == "No sessions yet"
    assert "footroom import FOLDER" in page.locator("pre").inner_text()
    assert page.locator("#caution").is_visible()


@pytest.mark.parametrize(
    ("path", "title", "found"),
    [
        ("/", "Set-ups of lark", True),
        ("/sessions/../x", "No such page", False),
        ("/sessions/x", "No such session", False),
    ],
)
def test_addresses(logbook, path, title, found):
    page = page_at(Store(logbook), path, "")
    assert (page.title, page.found) == (title, found)


def test_each_app_stands_alone(logbook, tmp_path):
    Logbook.create(tmp_path / "other")
    first, second = create_app(logbook), create_app(tmp_path / "other")
    assert first.server is not second.server
    assert first.config.serve_locally if "serve_locally" in first.config else first.scripts.config.serve_locally
