"""`footroom clips`: which clips are heard; make one blink; remember who is where."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

LogbookOption = Annotated[
    Path,
    typer.Option("--logbook", envvar="FOOTROOM_LOGBOOK", help="The logbook folder.", metavar="FOLDER"),
]
SourceOption = Annotated[
    list[str] | None,
    typer.Option(
        "--source",
        metavar="WAY",
        help="serial, serial:PORT, bluetooth, bluetooth:ADAPTER, virtual, replay:SESSION; may be repeated. Default: "
        "every USB serial port, and Bluetooth.",
    ),
]
BaudOption = Annotated[int | None, typer.Option(min=1200, help="Of serial ports; over USB it means nothing.")]
ClipArgument = Annotated[str, typer.Argument(metavar="CLIP", help="The clip's id, as `footroom clips` shows it.")]

clips_app = typer.Typer(
    help="Which clips are heard; make one blink; remember where each is worn.",
    no_args_is_help=False,
    pretty_exceptions_enable=False,
)


@clips_app.callback(invoke_without_command=True)
def list_clips(
    context: typer.Context,
    source: SourceOption = None,
    seconds: Annotated[float, typer.Option(min=0.1, max=600, help="How long to listen.")] = 5.0,
    expect: Annotated[int | None, typer.Option(min=1, help="Stop as soon as so many clips are heard.")] = None,
    logbook: Annotated[
        Path | None,
        typer.Option("--logbook", envvar="FOOTROOM_LOGBOOK", metavar="FOLDER", help="Shows where each clip is worn."),
    ] = None,
    baud: BaudOption = None,
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List the clips that are heard: id, way, signal, battery, rate. Nothing is recorded."""
    if context.invoked_subcommand is not None:
        return
    from .clips import as_rows, hear, to_refuse
    from .sources.choose import choose_sources
    from .worn import read_worn

    worn = None
    if logbook is not None and logbook.is_dir():
        from .logbook import Logbook

        worn = read_worn(Logbook(logbook).path)
    elif logbook is not None:
        typer.echo(f"Note: there is no logbook {logbook} yet, so nobody knows where the clips are worn.", err=True)
    found = hear(choose_sources(source or [], baud, logbook), seconds, patient=not source, expected=expect)
    rows = as_rows(found.clips, worn)
    refusal = to_refuse(found, named=bool(source))
    notes = [str(problem) for problem in found.problems if problem is not refusal]
    if json:
        _print_json({"clips": rows, "problems": [str(problem) for problem in found.problems]})
    elif rows:
        _print_table(rows)
    for note in notes:
        typer.echo(f"Note: {note}", err=True)
    if refusal is not None:
        raise refusal
    if not rows and not json:
        typer.echo("No clip is heard. Switch one on and bring it near; listen longer with --seconds 20.", err=True)


@clips_app.command("blink")
def blink_clip(
    clip: ClipArgument,
    source: SourceOption = None,
    seconds: Annotated[int, typer.Option(min=0, max=255, help="How long it blinks; 0 ends it.")] = 10,
    baud: BaudOption = None,
) -> None:
    """Make a clip blink, to see which one it is."""
    from .clips import blink
    from .sources.choose import choose_sources

    facts = blink(choose_sources(source or [], baud, wanted=[clip]), clip, seconds)
    typer.echo(f"{facts.clip} blinks for {seconds} s." if seconds else f"{facts.clip} blinks no more.")


@clips_app.command("wear")
def wear_clip(
    clip: ClipArgument,
    segment: Annotated[str, typer.Argument(metavar="SEGMENT", help="foot, shank, thigh or pelvis.")],
    logbook: LogbookOption,
    side: Annotated[str | None, typer.Argument(metavar="[SIDE]", help="right or left; none for the pelvis.")] = None,
    participant: Annotated[str | None, typer.Option(metavar="ID", help="For this person only.")] = None,
) -> None:
    """Remember in the logbook where a clip is worn (the logbook is made when new)."""
    from .logbook import Logbook
    from .worn import wear

    entry, moved = wear(Logbook.open(logbook, create=True).path, clip, segment, side, participant)
    who = f" by {participant}" if participant else ""
    typer.echo(f"{entry.clip} is worn on the {entry.name.replace('_', ' ')}{who}.")
    for other in moved:
        typer.echo(f"Note: {other} was there until now; it has no place any more.", err=True)


@clips_app.command("take-off")
def take_off_clip(
    clip: ClipArgument,
    logbook: LogbookOption,
    participant: Annotated[str | None, typer.Option(metavar="ID", help="For this person only.")] = None,
) -> None:
    """Forget where a clip is worn."""
    from .errors import InputError
    from .logbook import Logbook
    from .worn import take_off

    if not take_off(Logbook(logbook).path, clip, participant):
        who = f" on {participant}" if participant else ""
        raise InputError(
            f"{clip} is not worn{who} as far as {logbook} knows; see `footroom clips --logbook {logbook}`."
        )
    typer.echo(f"{clip} is worn nowhere.")


def _print_json(value: Mapping[str, Any]) -> None:
    from json import dumps

    typer.echo(dumps(value, indent=2, ensure_ascii=False, allow_nan=False))


def _print_table(rows: list[dict[str, Any]]) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=110)
    table = Table("clip", "worn on", "way", "signal", "battery", "rate", "sends", box=box.SIMPLE)
    for row in rows:
        worn = ", ".join(
            place.replace("_", " ") + (f" ({who})" if who else "") for who, place in sorted(row["worn"].items())
        )
        sends = {True: "yes", False: "no", None: "?"}[row["running"]]
        cells = (
            row["clip"], worn or "-", f"{row['kind']} {row['place']}", _unit(row["signal_dbm"], "dBm"),
            _unit(row["battery_percent"], "%"), f"{row['rate_hz']:g} Hz", sends,
        )  # fmt: skip
        table.add_row(*(Text(cell) for cell in cells))
    console.print(table)


def _unit(value: float | None, unit: str) -> str:
    return "-" if value is None else f"{value:g} {unit}"
