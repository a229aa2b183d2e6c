"""`footroom record`: a practice from clips that are worn, guided from the first pose to the session in the logbook."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def record_command(
    participant: Annotated[str, typer.Option(metavar="ID", help="Who plays: a pseudonym such as p01, never a name.")],
    setup: Annotated[
        list[str],
        typer.Option(
            "--setup",
            metavar="NAME",
            help="A throne and pedal set-up. Repeat it for every one you play in this wearing, in their order.",
        ),
    ],
    logbook: Annotated[
        Path,
        typer.Option(
            "--logbook",
            envvar="FOOTROOM_LOGBOOK",
            metavar="FOLDER",
            show_envvar=True,
            help="The logbook folder; made when new.",
        ),
    ],
    source: Annotated[
        list[str] | None,
        typer.Option(
            "--source",
            metavar="WAY",
            help="serial, serial:PORT, bluetooth, bluetooth:ADAPTER, replay:SESSION, or virtual to try it without "
            "clips; may be repeated. Default: every USB serial port, and Bluetooth.",
        ),
    ] = None,
    minutes: Annotated[
        float, typer.Option(min=0, max=240, help="Of playing on each set-up; 0 = until you press Enter.")
    ] = 3.0,
    exercise: Annotated[str | None, typer.Option(help="What is played, in a word or two.")] = None,
    tempo: Annotated[
        float | None, typer.Option("--tempo", min=20, max=399, help="Its tempo, in beats a minute.")
    ] = None,
    practice_only: Annotated[
        bool, typer.Option("--practice-only", help="No calibration moves, no range check: only playing.")
    ] = False,
    no_range: Annotated[bool, typer.Option("--no-range", help="Without the range check.")] = False,
    only: Annotated[
        str | None,
        typer.Option(
            metavar="slide|range",
            help="Without playing: the slide for spacing (in socks, clips on thighs and shanks), or the range check.",
        ),
    ] = None,
    hands_free: Annotated[
        bool, typer.Option("--hands-free", help="Each step begins by itself after a countdown; no key is needed.")
    ] = False,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Go on with a low battery or a clip that is not heard.")
    ] = False,
    new: Annotated[
        bool, typer.Option("--new", help="A participant or set-up that the logbook does not know begins here.")
    ] = False,
    note: Annotated[str | None, typer.Option(help="A sentence to keep with the session.")] = None,
    baud: Annotated[int | None, typer.Option(min=1200, help="Of serial ports; over USB it means nothing.")] = None,
    speed: Annotated[
        float, typer.Option(min=0.1, max=60, hidden=True, help="Of virtual clips: faster than life.")
    ] = 1.0,
) -> None:
    """Record a practice from clips that are worn, guided from the first pose on.

    First come the cautions, sitting still, a few calibration moves and the range
    check (about ten minutes with clips on both legs); then, for every set-up,
    a rest, three lifts and the playing. Each step waits for Enter; any may be
    skipped, and p ends the moves of a leg that hurts.

    What was recorded is not lost when the plug is pulled: `footroom recover`
    brings it back. To try it without clips: --source virtual --hands-free.
    """
    from ..errors import InputError
    from .session_run import Asked, run

    if only is not None and only not in ("slide", "range"):
        raise InputError(f"{only!r} cannot be recorded alone; say --only slide or --only range.")
    status = run(
        Asked(
            logbook=logbook, participant=participant, setups=tuple(setup), sources=tuple(source or ()),
            minutes=minutes or None, exercise=exercise, tempo_bpm=tempo, practice_only=practice_only,
            range_check=not no_range, only=only, hands_free=hands_free, anyway=anyway, new=new, note=note, baud=baud,
            speed=speed,
        )
    )  # fmt: skip
    if status:
        raise typer.Exit(status)
