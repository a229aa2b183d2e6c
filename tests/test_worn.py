"""Which clip is worn where: the file in the logbook, and what is refused."""

from __future__ import annotations

import json

import pytest
from footroom.logger.errors import InputError, LogbookError, LogbookFromFuture
from footroom.logger.logbook import Logbook
from footroom.logger.worn import FILE_NAME, read_worn, take_off, wear


@pytest.fixture
def logbook(tmp_path):
    return Logbook.create(tmp_path / "L").path


def test_nothing_is_known_at_first(logbook):
    assert read_worn(logbook).clips == []
    assert not (logbook / FILE_NAME).exists()


def test_a_place_is_remembered_for_everybody_and_a_person_s_own_wins(logbook):
    wear(logbook, "a1", "foot", "right")
    wear(logbook, "a2", "shank", "right")
    wear(logbook, "p0", "pelvis")
    wear(logbook, "a1", "foot", "left", participant="wren")
    worn = read_worn(logbook)
    assert worn.places() == {"a1": "right_foot", "a2": "right_shank", "p0": "pelvis"}
    assert worn.places("wren") == {"a1": "left_foot", "a2": "right_shank", "p0": "pelvis"}
    assert worn.places("robin") == worn.places()


def test_a_person_s_own_clip_takes_the_place_of_the_common_one(logbook):
    wear(logbook, "a1", "foot", "right")
    wear(logbook, "b1", "foot", "right", participant="wren")
    assert read_worn(logbook).places("wren") == {"b1": "right_foot"}
    assert read_worn(logbook).places() == {"a1": "right_foot"}


def test_a_clip_has_one_place_and_a_place_one_clip(logbook):
    wear(logbook, "a1", "foot", "right")
    entry, moved = wear(logbook, "a2", "foot", "right")
    assert (entry.name, moved) == ("right_foot", ["a1"])
    _, moved = wear(logbook, "a2", "shank", "right")
    assert moved == []
    assert read_worn(logbook).places() == {"a2": "right_shank"}


def test_the_same_again_changes_nothing(logbook):
    wear(logbook, "a1", "foot", "right")
    before = (logbook / FILE_NAME).read_bytes()
    assert wear(logbook, "a1", "foot", "right")[1] == []
    assert (logbook / FILE_NAME).read_bytes() == before


def test_taking_off_forgets_all_entries_or_one_person_s(logbook):
    wear(logbook, "a1", "foot", "right")
    wear(logbook, "a1", "foot", "left", participant="wren")
    assert take_off(logbook, "a1", "wren") == 1
    assert read_worn(logbook).places("wren") == {"a1": "right_foot"}
    assert take_off(logbook, "a1") == 1
    assert take_off(logbook, "a1") == 0
    assert read_worn(logbook).clips == []


def test_what_somebody_added_to_the_file_is_kept(logbook):
    wear(logbook, "a1", "foot", "right")
    data = json.loads((logbook / FILE_NAME).read_text(encoding="utf-8"))
    data["remark"] = "set B"
    data["clips"][0]["colour"] = "red"
    (logbook / FILE_NAME).write_text(json.dumps(data), encoding="utf-8")
    wear(logbook, "a2", "foot", "left")
    data = json.loads((logbook / FILE_NAME).read_text(encoding="utf-8"))
    assert data["remark"] == "set B" and data["clips"][0]["colour"] == "red"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("a1", "foot"), r"which foot\? Add `right` or `left`"),
        (("a1", "pelvis", "right"), "the pelvis has no side"),
        (("a1", "toe", "right"), "the segment 'toe' cannot be used"),
        (("a1", "foot", "both"), "the side 'both' cannot be used"),
        (("a/1", "foot", "right"), "the clip 'a/1' cannot be used"),
        (("", "foot", "right"), "the clip '' cannot be used"),
        (("a1", "foot", "right", "Wren!"), "the participant 'Wren!' cannot be used"),
    ],
)
def test_a_place_that_is_none_is_refused_and_nothing_written(logbook, arguments, said):
    with pytest.raises(InputError, match=said):
        wear(logbook, *arguments)
    assert not (logbook / FILE_NAME).exists()


def test_a_damaged_file_is_said_and_left_as_it_is(logbook):
    (logbook / FILE_NAME).write_text("{", encoding="utf-8")
    with pytest.raises(LogbookError, match=r"clips\.json, line 1: not valid JSON"):
        wear(logbook, "a1", "foot", "right")
    assert (logbook / FILE_NAME).read_text(encoding="utf-8") == "{"
    (logbook / FILE_NAME).write_text('{"schema_version": 1, "clips": [{"clip": "a1", "segment": "ear"}]}', "utf-8")
    with pytest.raises(LogbookError, match=r"`clips\.0\.segment` cannot be used"):
        read_worn(logbook)
    (logbook / FILE_NAME).write_text('{"schema_version": 99, "clips": []}', encoding="utf-8")
    with pytest.raises(LogbookFromFuture, match="newer Footroom"):
        read_worn(logbook)
