"""Geometry in import.toml: what cannot be is refused with the likely slip, what is unusual is kept and said."""

import numpy as np
import pytest
from footroom.logger.csv_import import import_folder
from footroom.logger.errors import InputError
from footroom.logger.logbook import Logbook
from import_folder import write_import_folder

TIME = np.arange(0, 6, 0.01)
STILL = np.tile([0.0, 9.81, 0.0], (TIME.size, 1)) + np.random.default_rng(1).normal(0, 0.02, (TIME.size, 3))
TURN = np.random.default_rng(2).normal(0, 0.02, (TIME.size, 3))


def folder(tmp_path, person=None, **geometry):
    return write_import_folder(
        tmp_path / "in", {"right_foot": (TIME, STILL, TURN)}, [{"name": "playing", "start_s": 1.0, "end_s": 5.0}],
        participant={"id": "p01", "stature_cm": 172, **(person or {})}, setups=[{"name": "near", **geometry}],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("geometry", "person", "message"),
    [
        ({"reach_cm": 23, "spacing_cm": 19}, {}, r"line \d+: .*measured in inches, write spacing_cm = 48.3"),
        ({"throne_height_cm": 60, "seat_unloaded_cm": 55}, {}, "cannot be higher than the unloaded one"),
        ({}, {"thigh_length_cm": 60}, r"line \d+: thigh_length_cm = 60 does not fit stature_cm = 172"),
        ({}, {"thigh_length_cm": 50, "shank_length_cm": 37}, "do not belong to one leg"),
        ({"throne_height_cm": 90}, {"stature_cm": 165}, "cm above the knee crease"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_nothing_is_stored(tmp_path, geometry, person, message):
    with pytest.raises(InputError, match=message):
        import_folder(folder(tmp_path, person, **geometry), tmp_path / "L")
    assert not (tmp_path / "L").exists()


def test_what_is_unusual_is_kept_and_said(tmp_path):
    """A recording made beyond our bounds is still a recording."""
    made = folder(tmp_path, spacing_cm=94, snare_forward_cm=40)
    session = import_folder(made, tmp_path / "L")
    warnings = Logbook.open(tmp_path / "L").session(session).warnings
    assert any("a spacing of 94 cm is outside 30 to 90; measure again" in one for one in warnings)
    assert any("only when snare_diameter_in, snare_forward_cm" in one for one in warnings)
    assert all(one.startswith("import.toml, line ") for one in warnings)


def test_plain_geometry_says_nothing(tmp_path):
    made = folder(tmp_path, throne_height_cm=50, reach_cm=43, spacing_cm=46, footboard_pitch_deg=20)
    session = import_folder(made, tmp_path / "L")
    assert Logbook.open(tmp_path / "L").session(session).warnings == []
