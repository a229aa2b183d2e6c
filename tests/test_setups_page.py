"""What the Set-ups page says of the comparison, read from its parts; how it looks: test_dashboard_pages."""

from __future__ import annotations

import pytest
from comparison_data import FAR, NEAR, fill, paired, right_ankle
from footroom.dashboard.app import page_at
from footroom.dashboard.command import run
from footroom.dashboard.pages.verdicts import felt_lines, pairs_table, to_weigh
from footroom.dashboard.store import Store
from footroom.dashboard.summary import Card
from footroom.dashboard.wording import finding
from footroom.logger.models import Setup

NEAR_ROOMS, FAR_ROOMS = [8.0, 6.5, 9.0, 7.0], [12.5, 10.0, 13.0, 11.8]
SOCKS, SHOES = NEAR | {"footwear": "socks"}, FAR | {"footwear": "shoes"}


def words(part):
    """Everything a part of a page says, in order."""
    if part is None:
        return ""
    if isinstance(part, str | int | float):
        return str(part)
    if isinstance(part, list | tuple):
        return "".join(words(one) for one in part)
    return words(getattr(part, "children", None))


def parts(part, name):
    """The parts of a page that carry a class."""
    if isinstance(part, list | tuple):
        return [found for one in part for found in parts(one, name)]
    own = [part] if name in str(getattr(part, "className", "")).split() else []
    inner = getattr(part, "children", None)
    return own + (parts(inner, name) if inner is not None and not isinstance(inner, str) else [])


def page(path, made, search=""):
    return page_at(Store(fill(path / "log", *made) if made else path / "log"), "/", search).content


def test_a_clear_difference_comes_first_then_the_pair_in_numbers(tmp_path):
    content = page(tmp_path, paired(NEAR_ROOMS, FAR_ROOMS))
    (short,), (pairs,) = parts(content, "short"), parts(content, "pairs")
    assert words(parts(short, "lead")).startswith(
        "With the pedal 3 cm farther (‘far’) your right ankle kept 4.2 degrees"
    )
    row = words(pairs)
    missed = "no clear difference; up to 1 percentage point may have been missed"
    for said in ("near → far", "+4.2°", "+2.7 to +5.7°", "clear difference", missed):
        assert said in row
    assert parts(content, "mixed") == []
    rests = words(parts(content, "rests"))
    for said in ("For the coach:", "For the scientist:", "Why:", "Beside it: ‘near’ came first in 2"):
        assert said in rests


def test_no_clear_difference_says_what_may_have_been_missed(tmp_path):
    content = page(tmp_path, paired(NEAR_ROOMS, [9.5, 5.0, 8.0, 9.0]))
    assert "up to 2.8 degrees more or 2.3 less with ‘far’ may have been missed" in words(parts(content, "lead"))
    assert "no clear difference; up to 2.8° may have been missed" in words(parts(content, "pairs"))
    assert "not judged by itself" in words(parts(content, "pairs"))


def test_not_enough_data_says_how_many_more(tmp_path):
    content = page(tmp_path, paired(NEAR_ROOMS[:2], FAR_ROOMS[:2]))
    assert "Not enough data yet to say whether ‘near’ or ‘far’" in words(parts(content, "lead"))
    assert "not enough data; about 3 more should do" in words(parts(content, "pairs"))


def test_sessions_not_alike_are_compared_only_when_asked_and_it_is_said(tmp_path):
    content = page(tmp_path, paired(NEAR_ROOMS, FAR_ROOMS, SOCKS, SHOES))
    (said,) = parts(content, "mixed")
    assert "not alike in footwear, exercise or throne height, and so were not compared" in words(said)
    link = said.children[-1]
    assert (link.children, link.href) == ("Compare them all the same", "?participant=pupil&mixed=yes")
    assert "were not compared for your right ankle" in words(parts(content, "lead"))
    asked = page(tmp_path, None, link.href)
    (said,) = parts(asked, "mixed")
    assert "are compared here, because that was asked for" in words(said)
    assert said.children[-1].href == "?participant=pupil"
    assert "a clear difference, seen in all 4 sessions; but footwear differed, too" in words(parts(asked, "lead"))
    assert "the footwear differs (socks on near, shoes on far)" in words(parts(asked, "weigh"))


def test_asking_for_mixed_says_nothing_where_all_are_alike(tmp_path):
    assert parts(page(tmp_path, paired(NEAR_ROOMS, FAR_ROOMS), "?participant=pupil&mixed=yes"), "mixed") == []


@pytest.mark.parametrize("level", [0.98, 0.002])
def test_a_saturated_share_is_said(tmp_path, level):
    content = page(tmp_path, paired(NEAR_ROOMS, FAR_ROOMS, share=level))
    assert "too near all or nothing to tell" in words(parts(content, "pairs"))


def test_how_each_felt_stands_beside_the_verdict(tmp_path):
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for number, one in enumerate(sessions):
        one.setups = [Setup(**NEAR, comfort_0_10=5.0), Setup(**FAR, control_0_10=8.0, chosen=number < 3, note="light")]
    (short,) = parts(page(tmp_path, (exposures, sessions)), "short")
    said = "‘near’: comfort 5; ‘far’: control 8, chosen 3 of 4 times, “light”."
    assert words(parts(short, "felt")).endswith(said)


def test_what_is_typed_after_playing_stands_beside_the_verdict_too(tmp_path):
    path = fill(tmp_path / "log", *paired(NEAR_ROOMS, FAR_ROOMS))
    before = ["setup", "--logbook", str(path), "--participant", "pupil", "far"]
    assert run([*before, "comfort_0_10=7", "chosen=true", "note=light"]) == 0
    assert run([*before, "right.reach_cm=44"]) == 0  # says nothing new of how it felt
    content = page_at(Store(path), "/", "").content
    assert words(parts(content, "felt")).endswith("‘far’: comfort 7, chosen 1 of 1 time, “light”.")
    assert "With the pedal 3 cm farther" in words(parts(content, "lead"))  # as it stood when it was played on


def test_one_set_up_only_has_its_figure_and_the_next_step(tmp_path):
    exposures, sessions = paired(NEAR_ROOMS, FAR_ROOMS)
    for item in exposures:
        item["setups"] = {"near": right_ankle(8.0)}
    (short,) = parts(page(tmp_path, (exposures, sessions)), "short")
    assert "Only one set-up has figures. Record a second one in the same wearing" in words(short)
    assert felt_lines([], sessions) == []


def test_a_folded_line_says_what_may_have_been_missed():
    rows = [{"verdict": "no clear difference", "could_be_missed": missed} for missed in (1.2, 2.14)]
    said = finding(rows, {"near": 22.0, "far": 22.4})
    assert said == "no clear difference (up to 2.1° may have been missed); median room near 22.0°, far 22.4°"
    assert (
        finding([*rows, {"verdict": "clear difference"}], {"near": 22.0}) == "clear difference; median room near 22.0°"
    )
    assert finding([], {"near": 22.0}) == "median room near 22.0°"


def compared_row(a, b, interval=(0.7, 7.7), weigh=(), **more):
    row = {"setup_a": a, "setup_b": b, "difference": 4.2, "interval": list(interval), "weigh": list(weigh)}
    row |= {"verdict": "no clear difference", "barrier": None, "could_be_missed": 7.7, "gated": False}
    return row | more


def spread_card(*rows):
    return Card("both", "hip_spread", [], list(rows))


def test_what_plays_a_part_in_one_pair_only_is_said_of_that_pair():
    slip, less, more = "in one a clip slipped", "later had 1.9 degrees less room", "later had 1.5 degrees more room"
    card = spread_card(
        compared_row("near", "far", weigh=[slip]),
        compared_row("near", "wide", weigh=[slip, less]),
        compared_row("far", "wide", weigh=[slip, more]),
    )
    assert words(to_weigh(card)) == (
        f"Weigh with it: {slip}; between ‘near’ and ‘wide’: {less}; between ‘far’ and ‘wide’: {more}."
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({}, "no clear difference (not with so many questions asked at once); up to 7.7° may have been missed"),
        ({"gated": True}, "no clear difference (not judged by itself); up to 7.7° may have been missed"),
        ({"interval": [-0.1, 7.7]}, "no clear difference; up to 7.7° may have been missed"),
    ],
)
def test_an_interval_without_zero_that_is_not_enough_says_why(row, said):
    assert words(pairs_table(spread_card(compared_row("near", "far", **row)))).endswith(said)
