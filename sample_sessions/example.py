"""Makes `example_import/`: the smallest complete import folder, for people who want to see the format.

`python -m footroom.sample_sessions.example FOLDER` writes it again (into a new folder).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from ..logger.models import Segment
from ..logger.virtual_leg import still_angles
from .clips import participant, setups, simulate
from .evening import Evening, Part, add_repetitions, rng_for
from .moves import Sway, along, hold, repeat
from .pedalling import Sitting, playing, rest
from .pupils import EVENINGS, SCHOOL, SEED, Pupil, ends

RATE_HZ = 100.0
SEGMENTS: tuple[Segment, ...] = ("foot", "shank")
ROBIN = Pupil(
    id="robin",
    stature_cm=174,
    sides=("right",),
    throne_height_cm=51.0,
    reach_cm={"practice": 48.0},
    spacing_cm={"practice": 48.0},
    footboard_pitch_deg=20.0,
    foot_splay_deg=16.0,
    tempo_bpm=100,
    active_end_deg={"right": ends(17.5, 50.0, 110.0, 40.0, 10.0, 32.0, 38.0)},
    knee_out_deg=3.0,
)


def plan_example(seed: int = SEED) -> Evening:
    """Still pose, ankle taps, knee kicks, the dorsiflexion range, rest, half a minute of playing, still pose."""
    rng = rng_for(ROBIN, 0, 0, seed)
    evening = Evening(ROBIN, 0)
    base = still_angles(ROBIN.size, ROBIN.hip_height).as_array()[0]

    def still(seconds: float, name: str) -> Part:
        return Part(seconds, {"right": hold(base, Sway.draw(rng))}, name)

    evening.add(still(4.0, "still"))
    taps = repeat(base, np.full(4, 20.0), along(ankle_dorsiflexion=-1.0), (0.8, 0.1, 0.8, 0.3), Sway.draw(rng))
    evening.add(Part(8.0, {"right": taps}, "ankle_taps"), 1.5)
    kicks = repeat(base, np.full(4, 45.0), along(knee_flexion=-1.0), (1.0, 0.1, 1.0, 0.3), Sway.draw(rng))
    evening.add(Part(9.6, {"right": kicks}, "knee_kicks"), 1.5)
    add_repetitions(evening, "ankle_dorsiflexion", "range_dorsiflexion", base, ROBIN.sides, 5, rng)
    sitting = Sitting.draw(rng)
    end_deg = float(np.mean(evening.held_deg["right"]["ankle_dorsiflexion"][-3:]))
    evening.add(Part(3.0, {"right": rest(ROBIN, "practice", "right", sitting)}, "rest_on_pedal", setup="practice"))
    played = playing(ROBIN, "practice", "right", sitting, end_deg, 26.0, rng)
    evening.add(Part(26.0, {"right": played}, "playing", setup="practice"), 1.0)
    evening.add(still(3.0, "end_still"), 2.5)
    return evening


def import_toml(evening: Evening) -> str:
    """The text of `import.toml` for an evening recorded in one set-up."""
    person, setup = participant(evening.pupil), setups(evening.pupil)[0]
    lines = [
        "# A complete import folder: this file and one CSV per clip. Made by a script, from nobody's measurement.",
        "# `footroom import example_import --logbook L` reads it.",
        "",
        "[participant]",
        f'id = "{person.id}"',
        *(f"{key} = {value:g}" for key, value in person.model_dump(exclude={"id"}, exclude_none=True).items()),
        "",
        "[session]",
        f'recorded_at = "{EVENINGS[evening.number]}"',
        f'note = "{SCHOOL}. Simulated, not a person."',
        "",
        "[[setup]]",
        *(_line(key, value) for key, value in setup.model_dump(exclude_none=True, exclude_defaults=True).items()),
        "",
        "[units]",
        'acceleration = "m/s^2"',
        'angular_rate = "rad/s"',
    ]
    for segment in SEGMENTS:
        lines += ["", "[[clip]]", f'segment = "{segment}"', 'side = "right"', f'file = "right_{segment}.csv"']
    for phase in evening.phases():
        lines += ["", "[[phase]]"]
        for key, value in phase.model_dump(exclude_none=True).items():
            lines.append(_line(key, value))
    return "\n".join(lines) + "\n"


def _line(key: str, value: str | bool | float) -> str:
    if isinstance(value, bool):
        return f"{key} = {str(value).lower()}"
    return f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value:g}"


def write_example(folder: Path, seed: int = SEED) -> None:
    """Write the example import folder (made when absent). Raises OSError when it cannot be written."""
    evening = plan_example(seed)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "import.toml").write_text(import_toml(evening), encoding="utf-8", newline="\n")
    for name, (time, acc, gyr) in simulate(evening, seed, RATE_HZ, SEGMENTS).items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="\n") as file:
            file.write("time_s,acc_x,acc_y,acc_z,gyr_x,gyr_y,gyr_z\n")
            np.savetxt(
                file, np.column_stack([time, acc, gyr]), fmt=["%.2f"] + ["%.3f"] * 3 + ["%.4f"] * 3, delimiter=","
            )


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m footroom.sample_sessions.example FOLDER")
    write_example(Path(sys.argv[1]))
