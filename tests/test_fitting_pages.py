"""Range, Set-up geometry, Placement and the checklist: what they say, what moves, and that they fit phone and paper."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from urllib.parse import unquote

import numpy as np
import plotly.graph_objects as go
import pytest
from fitting_logbook import PERSON, setup, write_fitting_logbook
from footroom.analysis.fit import fit_of
from footroom.analysis.fitting_reports import range_report
from footroom.dashboard.app import page_at
from footroom.dashboard.figures.measuring_guide import GUIDE, guide_drawing
from footroom.dashboard.figures.placement_map import (
    limit_words,
    limits,
    map_figure,
    placed_apart,
    scale_words,
    tried_mark,
)
from footroom.dashboard.figures.range_strip import history_drawing, repetition_drawing
from footroom.dashboard.figures.seated import side_view, top_view
from footroom.dashboard.figures.svg import Drawing, as_address
from footroom.dashboard.figures.theme import SEQUENTIAL
from footroom.dashboard.fitting_steps import STEPS, minutes_in_all
from footroom.dashboard.fittings import KEPT, Fittings, read_known
from footroom.dashboard.pages.placement_tried import SLIDERS, drawn_over, slider_values, tried
from footroom.dashboard.store import Store
from footroom.dashboard.wording import CAUTION
from footroom.logger.cautions import LOCAL_RULES
from footroom.logger.models import KeepClear, Setup
from footroom.logger.person_notes import NotedSetup, note_setup

pytest_plugins = ("pages_in_browser",)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return write_fitting_logbook(tmp_path_factory.mktemp("fitting") / "evening-class")


@pytest.fixture(scope="module")
def store(path):
    return Store(path)


def said(part):
    """All text of a page, in order, spaces made plain."""
    if part is None or isinstance(part, bool):
        return ""
    if isinstance(part, str | int | float):
        return str(part)
    if isinstance(part, list | tuple):
        return " ".join(said(one) for one in part)
    return said(getattr(part, "children", None))


def page_text(store, address, search=""):
    page = page_at(store, address, search)
    return re.sub(r"\s+", " ", said(page.content).replace("\N{NO-BREAK SPACE}", " "))


# Drawings -----------------------------------------------------------------------------------------------------------


def shapes(svg):
    root = ET.fromstring(svg)
    return [(one.tag.rpartition("}")[2], one) for one in root]


def words_of(svg):
    return [one.text for tag, one in shapes(svg) if tag == "text"]


def test_a_drawing_keeps_words_inside_and_escapes_them():
    drawn = Drawing(0, 36, 0, 20)
    drawn.words((36.0, 10.0), "far <out> & on")
    [(tag, text)] = shapes(drawn.text())
    assert tag == "text" and text.text == "far <out> & on"
    assert float(text.get("x")) + 0.56 * 12 * len(text.text) <= 360
    address = as_address(drawn.text())
    assert address.startswith("data:image/svg+xml") and unquote(address.partition(",")[2]) == drawn.text()


def test_the_side_view_is_drawn_where_the_model_has_the_leg():
    fit = fit_of(PERSON, setup("near", 44))
    svg = side_view(fit, "right", {"hip": "hip: 12° left", "ankle": "ankle: 4° left"})
    said_there = words_of(svg)
    assert {"reach 44.0 cm", "50.0 cm", "hip: 12° left", "ankle: 4° left", "board 20°"} <= set(said_there)
    scale = 360 / 135.0
    circles = [(float(c.get("cx")), float(c.get("cy"))) for tag, c in shapes(svg) if tag == "circle"]
    pose = fit.poses("right")["rest"]
    for point in (pose.knee, pose.ankle):
        x, y = 100 * float(point[0]), 100 * (0.50 + fit.body.hip_above_seat + float(point[1]))
        assert min(abs(cx - (x + 38) * scale) + abs(cy - (118 - y) * scale) for cx, cy in circles) < 0.2


def test_the_top_view_measures_ball_to_ball_and_shows_what_stands_there():
    thing = KeepClear(name="floor tom", forward_cm=25, right_cm=40, diameter_cm=36, top_cm=55)
    fit = fit_of(
        PERSON, setup("near", 44, keep_clear=[thing], snare_diameter_in=14, snare_forward_cm=45, snare_rim_cm=70)
    )
    svg = top_view(fit, {"right": 3, "left": 0})
    assert {"spacing 46.0 cm", "floor tom", "snare drum"} <= set(words_of(svg))
    assert SEQUENTIAL[3] in svg and SEQUENTIAL[0] in svg
    dots = [c for tag, c in shapes(svg) if tag == "circle" and float(c.get("r")) == pytest.approx(360 / 124, abs=0.1)]
    xs = sorted(float(c.get("cx")) for c in dots if c.get("fill") != "#fffdf9")
    assert (xs[1] - xs[0]) * 124 / 360 == pytest.approx(46, abs=0.1)


def test_a_leg_that_does_not_reach_is_not_drawn_and_that_is_said():
    fit = fit_of(PERSON, setup("near", 44)).moved("reach_cm", 60.0)
    assert "The leg does not reach" in words_of(side_view(fit, "right"))
    assert words_of(top_view(fit)).count("does not reach") == 2


@pytest.mark.parametrize("name", [name for name, _, _ in GUIDE])
def test_every_measure_has_a_drawing_with_words(name):
    svg = guide_drawing(name)
    assert len(shapes(svg)) > 8 and words_of(svg)
    width, height = (float(v) for v in ET.fromstring(svg).get("viewBox").split()[2:])
    for tag, one in shapes(svg):
        if tag == "text":
            assert 0 <= float(one.get("x")) <= width and 8 <= float(one.get("y")) <= height, one.text


# The map ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def fitting(store):
    return Fittings(store).get("siskin", "far")


def test_the_map_names_what_limits_and_marks_where_it_stands_and_what_is_tried(fitting):
    shown = tried(fitting, {**slider_values(fitting.fit), "reach_cm": 47.0}, "both").figure
    traces = shown["data"]
    assert [trace["type"] for trace in traces[:3]] == ["scatter", "scatter", "contour"]
    assert [trace["text"][0] for trace in traces[:2]] == ["now", "tried"]
    assert (traces[0]["y"][0], traces[1]["y"][0]) == pytest.approx((44, 47)) and traces[1]["visible"]
    assert tried_mark((46, 44), (46, 44))["visible"] is False
    go.Figure(shown)  # refuses what is no figure
    names = {note["text"] for note in shown["layout"]["annotations"]}
    assert any("ankle<br>toes up" in name for name in names), names
    lines = [trace["line"].get("dash") for trace in traces if trace["type"] == "contour"][1:]
    assert lines[0] == "solid" and "dash" in lines


def test_colours_of_the_map_are_one_scale_in_order_with_words():
    assert [colour for colour, _ in scale_words()] == list(SEQUENTIAL[::-1])
    assert scale_words()[0][1] == "more than 5° into the end zone"
    assert limit_words("left", "ankle_dorsiflexion") == "Left ankle, toes up"
    assert limit_words("left", "the snare drum") == "the snare drum (left leg)"


def test_a_place_where_a_leg_touches_is_told_apart_and_everywhere_is_said_once(fitting):
    from footroom.analysis.keep_clear import Cylinder
    from footroom.analysis.placement import placement_map
    from footroom.analysis.placement_edges import borders

    around = np.arange(-12, 12.1, 2.0)
    drawn = []
    for radius in (0.18, 0.45):
        drum = Cylinder("the snare drum", 0.42, 0.0, radius, 0.4, 0.7)
        fit = replace(fit_of(PERSON, setup("far", 44)), volumes=(drum,))
        found = placement_map(fit, fitting.yardstick, reach_cm=44 + around, spacing_cm=46 + around)
        joints, things = limits(found, ["right", "left"])
        assert set(things.ravel()) <= {
            "",
            "the snare drum (right leg)",
            "the snare drum (left leg)",
            "the other leg (left leg)",
        }
        assert "" not in set(joints.ravel())
        lines = borders(found, fit, fitting.yardstick, ["right", "left"])
        drawn.append((map_figure(found, ["right", "left"], lines, (46, 44)), things))
    (partly, things_partly), (wholly, _) = drawn
    [shaded] = [t for t in partly["data"] if t["type"] == "contour" and t["contours"].get("type") == "constraint"]
    # plotly.js reference, contour.contours.type: "constraint ... with the invalid region shaded", so touched = not >= 0
    assert shaded["contours"]["operation"] == ">=" and shaded["contours"]["value"] == 0
    depth = np.array(shaded["z"], dtype=float)
    assert (depth[things_partly != ""] <= 0).all() and (depth[things_partly == ""] >= 0).all()
    solid = next(t for t in partly["data"] if t["type"] == "contour" and t["line"].get("dash") == "solid")
    assert (np.array(solid["z"])[things_partly != ""] <= 0).all(), "the clear region holds no place that is touched"
    assert "everywhere touching the snare drum" in wholly["layout"]["annotations"][-1]["text"]


def test_names_on_the_map_do_not_cover_each_other():
    names = [{"x": 46.0, "y": y, "yshift": 0} for y in (44.0, 44.5, 45.0)] + [{"x": 64.0, "y": 44.0, "yshift": 0}]
    apart = placed_apart(names, [34.0, 66.0], [32.0, 56.0])
    heights = [one["y"] * 348 / 24 + one["yshift"] for one in apart]  # px of the 24 cm that are drawn
    assert [heights[0] - h >= 40 for h in heights[1:3]] == [True, True] and abs(heights[1] - heights[2]) >= 40
    assert apart[3]["yshift"] == 0, "far to the side nothing moves"


# What moves ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("knob", "by"), [(knob, half / 2) for knob, (half, _) in SLIDERS.items()])
def test_every_slider_redraws_what_it_moves(fitting, knob, by):
    stands = slider_values(fitting.fit)
    before = tried(fitting, stands, "both")
    after = tried(fitting, {**stands, knob: stands[knob] + by}, "both")
    from_the_side = before.side != after.side
    from_above = before.top != after.top
    assert (from_the_side, from_above) == {
        "throne_height_cm": (True, True), "reach_cm": (True, True), "spacing_cm": (True, True),
        "footboard_pitch_deg": (True, True), "foot_splay_deg": (True, True),
    }[knob]  # fmt: skip
    assert said(after.table) != said(before.table)


def test_reach_moves_the_ankle_as_the_arithmetic_says(fitting):
    """domain arithmetic: reach +5 cm -> about -7 deg of dorsiflexion, so about +7 deg of room (planar two-link leg)."""
    stands = slider_values(fitting.fit)
    row = said(tried(fitting, {**stands, "reach_cm": 49.0}, "right").table)
    gain = float(re.search(r"Right ankle, toes up \S+ \S+ \+([\d.]+)°", row).group(1))
    assert gain == pytest.approx(7, abs=1.5)


def test_the_tightest_joint_comes_with_how_sure_its_room_is_and_the_drawing_names_the_motion(fitting):
    shown = tried(fitting, slider_values(fitting.fit), "right")
    text = said(shown.reading).replace("\N{NO-BREAK SPACE}", " ")
    assert re.search(r"is tightest: -?[\d.]+ ± [\d.]+° left \(95 %\), ", text)
    drawn = words_of(unquote(shown.side).partition(",")[2])
    assert any(re.fullmatch(r"toes up: −?\d+° left", one) for one in drawn)
    assert any(re.fullmatch(r"(knee|turned) \w+: −?\d+° left", one) for one in drawn)


def test_one_foot_alone_is_shown_when_asked(fitting):
    one = tried(fitting, slider_values(fitting.fit), "left")
    assert "Left ankle" in said(one.table) and "Right ankle" not in said(one.table)


def test_a_slider_moves_the_pedal_of_the_chosen_foot_only(store):
    near = Fittings(store).get("siskin", "near")
    assert (slider_values(near.fit, "right")["reach_cm"], slider_values(near.fit, "left")["reach_cm"]) == (41, 42)
    moved = tried(near, {**slider_values(near.fit, "left"), "reach_cm": 47.0}, "left")
    assert "reach 47.0 cm" in unquote(moved.side)
    other = tried(near, {**slider_values(near.fit, "right"), "reach_cm": 41.0}, "right")
    assert "reach 41.0 cm" in unquote(other.side) and "no change" in said(other.table)
    assert drawn_over({"reach_cm": 1, "spacing_cm": 2, "throne_height_cm": 50}, "left") == ["left", 50]


def test_fittings_are_kept_until_something_changes(tmp_path):
    store = Store(write_fitting_logbook(tmp_path / "L"))
    kept = Fittings(store)
    first = kept.get("siskin", "near")
    assert kept.get("siskin", "near") is first
    moved = NotedSetup(
        recorded_at=first.score and store.notes("siskin").setups[-1].recorded_at, setup=setup("near", 43)
    )
    note_setup(store._logbook, "siskin", moved)
    again = kept.get("siskin", "near")
    assert again is not first and again.fit.legs["right"].reach == pytest.approx(0.43)
    for number in range(KEPT + 2):
        note_setup(store._logbook, "siskin", NotedSetup(recorded_at=moved.recorded_at, setup=setup(f"n{number}", 43)))
        kept.get("siskin", f"n{number}")
    assert len(kept._kept) == KEPT


# Pages in words -----------------------------------------------------------------------------------------------------


def test_the_placement_page_answers_first_and_is_no_prescription(store):
    text = page_text(store, "/placement", "?participant=siskin&setup=far")
    assert text.index("Not a prescription: within the clear region the person chooses") < text.index("In short")
    assert re.search(r"Reach, right foot: nearest [\d.]+ ± \d+ cm \(right ankle, toes up\)", text)
    assert "The slide gave 18 to 61 ± 6 cm ball to ball (siskin-2026-11-10), in socks on the floor." in text
    assert "What to try next" in text and "hen measure again" in text
    assert not re.search(r"(right|left) (ankle|hip) \w*(flexion|rotation|abduction)", text), "the screens' own words"
    far = fit_of(store.person("siskin"), setup("far", 44))
    knee = [f"{np.degrees(pose.knee_flexion):.1f}°" for pose in far.poses("right").values()]
    assert "Angle Right, rest Right, contact Left, rest Left, contact Hip flexion " in text
    assert f"Knee flexion {' '.join(knee)}" in text
    assert "in their 90 % interval" in text and "12 predictions" in text
    assert "Reach, 1 cm farther from the throne: " in text
    assert "Room here is the median while playing" in text and "tightest moment of a stroke, by" not in text
    assert re.search(r"Right ankle, toes up \d+° \(range check\) -?[\d.]+ ± [\d.]+° ", text)


def test_a_throne_that_is_not_settled_comes_first_and_nothing_is_suggested(store):
    text = page_text(store, "/placement", "?participant=siskin&setup=high")
    assert "First the throne: 54 cm is not marked as settled" in text
    assert "Nothing for now: the throne height is not marked as settled" in text
    assert "another throne height (4 cm apart), not learned from" in text


def test_drums_in_the_way_are_told_apart_from_the_joints(store):
    text = page_text(store, "/placement", "?participant=siskin&setup=near")
    assert "By the joints alone, if nothing stood in the way:" in text
    assert re.search(r"left knee turned out \d+° to clear the snare drum; left hip, .*?, then keeps \d+°", text)


def test_an_address_of_somebody_or_something_unknown_shows_no_other(store):
    for address in ("/", "/range", "/setup", "/placement", "/checklist"):
        text = page_text(store, address, "?participant=ghost")
        assert "No participant 'ghost' is in this logbook" in text and "siskin" not in text, address
    text = page_text(store, "/placement", "?participant=siskin&setup=gone")
    assert "There is no set-up 'gone'; known are far, high, near" in text and "Reach, right foot" not in text


@pytest.mark.parametrize("search", ["?participant=linnet", "?participant=linnet&setup=first"])
def test_what_cannot_be_placed_yet_says_what_to_measure(store, search):
    text = page_text(store, "/placement", search)
    assert "Not measured yet" in text and "footroom setup" in text


def test_the_geometry_page_shows_measures_findings_history_and_feelings(store):
    text = page_text(store, "/setup", "?participant=siskin")
    assert "The throne is settled at 50 cm" in text and "Chosen by siskin: ‘near’" in text
    assert "At another throne height, so not comparable: ‘high’" in text
    assert "Reach, hip to ankle 41 cm, left foot 42 cm" in text
    assert "comfort 6, balance 7, control 5. “a bit close”" in text
    assert "Kept clear of: floor tom 25 cm ahead, 52 cm to the right, 36 cm across" in text
    assert "the forefoot is lifted 1.2°: hardly lifted, try the pedal farther" in text
    assert "What was changed (3)" in text and "reach, hip to ankle (left foot) 42 cm" in text
    assert "trunk to thigh" in text and "from stature" in text
    assert all(title in text for _, title, _ in GUIDE)


def test_implausible_geometry_is_said_on_the_page(tmp_path):
    path = write_fitting_logbook(tmp_path / "L")
    store = Store(path)
    when = store.notes("linnet").setups[0].recorded_at
    odd = Setup(name="inches", throne_height_cm=48, reach_cm=43, spacing_cm=18)
    note_setup(store._logbook, "linnet", NotedSetup(recorded_at=when, setup=odd))
    text = page_text(store, "/setup", "?participant=linnet")
    assert "Look at this" in text and "if it was measured in inches, write spacing_cm = 45.7" in text


def test_the_range_page_is_the_whole_sheet(store):
    text = page_text(store, "/range", "?participant=siskin")
    assert text.index("without a clinician") < text.index("In short")
    assert "(17.0), (20.0), 12.0 not valid, 21.4, 21.0, 20.6" in text
    assert "Measured at another throne height than now (50 cm): Left ankle, toes up" in text
    assert "To repeat: " in text and "12.0, 12.5, 13.0" in text and "with an inclinometer, barefoot" in text
    assert "For orientation, no target: 12.2° (SD 4.1°), active, goniometer" in text
    assert "ball to ball narrowest 18, widest 61 ± 6 cm" in text and "tilted: repeat, does not count" in text
    assert "far, right foot 6.0° 1.2° 1.2, 1.0, 1.4" in text
    assert "Ankle, toes up: the right goes" in text


def test_the_way_an_end_is_formed_can_be_chosen(store):
    assert "median of the kept ones" in page_text(store, "/range", "?participant=siskin&method=median")
    mean, best = (
        page_text(store, "/range", f"?participant=siskin&method={m}") for m in ("mean_of_last_three", "best_of_n")
    )
    assert "right 21.0° (standard error" in mean and "right 21.4° (standard error" in best
    assert page_text(store, "/range", "?participant=siskin&method=nonsense") == mean


def test_repetitions_and_history_are_drawn_as_they_are(store):
    known = read_known(store, "siskin")
    sheet = range_report("siskin", known.sessions, known.exposures, known.notes)
    rows = [row for row in sheet["ranges"] if row["motion"] == "ankle_dorsiflexion"]
    svg = repetition_drawing(rows)
    assert len([1 for tag, _ in shapes(svg) if tag == "circle"]) == 5 + 3, "the invalid one is a cross"
    assert {"right: 21.0°", "left: 12.5°", "published", "degrees from neutral"} <= set(words_of(svg))
    left = history_drawing(rows[1])
    circles = [c.get("fill") for tag, c in shapes(left) if tag == "circle"]
    assert len(circles) == 3 and circles[-1] == "#fffdf9", "another throne height is hollow"
    assert "2026-11-03" in words_of(left)


def test_somebody_measured_by_hand_only_is_known_on_every_page(store):
    assert store.participants() == ["linnet", "siskin"]
    for address in ("/", "/sessions", "/range", "/setup", "/placement", "/checklist"):
        assert page_at(store, address, "?participant=linnet").found
    text = page_text(store, "/", "?participant=linnet")
    assert "linnet: no session yet" in text and "Nothing was recorded of linnet so far" in text
    assert "footroom record --participant linnet --setup near --logbook" in text


def test_the_checklist_takes_twenty_minutes_in_the_order_of_a_fitting(store):
    assert minutes_in_all() == 20
    titles = [step.title for step in STEPS]
    order = ["Throne height", "The slide", "Shoes", "The range check", "Spacing and reach", "The choice"]
    places = [next(i for i, title in enumerate(titles) if title.startswith(word)) for word in order]
    assert places == sorted(places)
    text = page_text(store, "/checklist", "?participant=siskin")
    assert "For siskin" in text and "without a clinician" in text and "guardian" in text


# In a browser -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def address(serve, path):
    return serve(path)


def opened(browser, url, width, complaints):
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(url)
    page.locator("main h1").wait_for()
    page.wait_for_timeout(300)
    return page


def test_the_pages_fit_a_phone_and_show_the_caution(browser, address):
    complaints = []
    page = opened(browser, f"{address}/range?participant=siskin", 360, complaints)
    broken = "Array.from(document.images).filter(i => !i.complete || !i.naturalWidth || !i.alt).length"
    for name in ("Range", "Set-up geometry", "Placement"):
        page.get_by_role("navigation").get_by_role("link", name=name).click()
        page.wait_for_function(
            f"document.title.length && document.querySelector('nav .here').textContent.startsWith({name!r})"
        )
        page.locator("main img").first.wait_for()
        page.wait_for_timeout(300)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, name
        assert page.locator("#caution").inner_text() == f"{CAUTION} {LOCAL_RULES}"
        assert page.locator("h1").count() == 1
        assert page.evaluate(broken) == 0, name
        assert "participant=siskin" in page.url
    page.goto(f"{address}/checklist?participant=siskin")
    page.locator(".checklist").wait_for()
    assert len(re.findall(rb"/Type /Page\b", page.pdf(format="A4"))) == 1, "the checklist is one sheet"
    assert complaints == []
    page.close()


LATE_ANSWER = """() => {
    const real = window.fetch;
    const late = (options) => /"reach_cm".{0,60}"value":45.5/.test((options && options.body) || '');
    window.asked = window.answered = 0;
    window.fetch = async (url, options) => {
        window.asked += late(options);
        const answer = await real(url, options);
        if (late(options)) {
            await new Promise((done) => setTimeout(done, 1000));
            setTimeout(() => { window.answered += 1; }, 200);
        }
        return answer;
    };
}"""


def test_an_answer_that_comes_late_does_not_leave_an_older_drawing(browser, address):
    """The answer for 45.5 cm comes after that for 46, which was asked later."""
    page = opened(browser, f"{address}/placement?participant=siskin&setup=far", 1280, [])
    page.evaluate(LATE_ANSWER)
    page.get_by_role("slider", name="Reach").focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.wait_for_function("window.asked === 1")
    page.keyboard.press("ArrowRight")
    page.wait_for_function("window.answered === 1")
    head = "Array.from(document.querySelectorAll('.slider-head')).some(h => /Reach46/.test(h.textContent))"
    page.wait_for_function(head)
    page.wait_for_function("decodeURIComponent(document.querySelector('#try-side').src).includes('reach 46.0')")
    page.close()


def test_a_slider_moved_by_keyboard_redraws_and_the_button_goes_back(browser, address):
    complaints = []
    page = opened(browser, f"{address}/placement?participant=siskin&setup=far", 1280, complaints)
    before = page.locator("#try-side").get_attribute("src")
    slider = page.get_by_role("slider", name="Reach")
    slider.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    head = "Array.from(document.querySelectorAll('.slider-head')).some(h => /Reach{}/.test(h.textContent))"
    page.wait_for_function(head.format(46))
    page.wait_for_function(f"document.querySelector('#try-side').src !== {before!r}")
    page.wait_for_function("document.querySelector('[aria-label=Reach]').getAttribute('aria-valuetext') === '46.0 cm'")
    pitch = page.get_by_role("slider", name="Footboard pitch")
    assert pitch.get_attribute("aria-valuetext") == "20.0 degrees"
    assert "reach%2046.0" in page.locator("#try-side").get_attribute("src").replace(" ", "%20")
    tried_at = "document.querySelector('#try-map .js-plotly-plot').data[1]"
    page.wait_for_function(f"{tried_at}.visible === true && {tried_at}.y[0] === 46")
    page.get_by_role("button", name="Back to where it stands").click()
    page.wait_for_function(head.format(44))
    page.wait_for_function(f"document.querySelector('#try-side').src === {before!r}")
    page.get_by_role("textbox", name="From set-up").click()
    page.get_by_role("option", name="high").click()
    page.locator("main p", has_text="set-up ‘high’").wait_for()
    assert "setup=high" in page.url
    page.goto(f"{address}/placement?participant=siskin&setup=near")
    page.get_by_text("Left foot", exact=True).click()
    page.wait_for_function(head.format(42))
    page.wait_for_function("document.querySelector('#try-reading').textContent.includes('Left leg at rest')")
    assert complaints == []
    page.close()
