"""The one command, `footroom`: its subcommands, and the one place where errors become exit statuses.

    0    done (figures withheld with a reason included)
    1    `analyze`, `recover`: some sessions failed, the others are done
    2    something a person can put right: one sentence on stderr
    130  ended with Ctrl-C

Each subcommand's work lives beside the code it drives and is imported when it is called, so that
`footroom --help` stays fast.
"""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from ..logger.clips_command import clips_app
from ..logger.recorder.record_command import record_command

INTERRUPTED = 130

LogbookOption = Annotated[
    Path,
    typer.Option(
        "--logbook",
        envvar="FOOTROOM_LOGBOOK",
        help="The logbook folder.",
        show_envvar=True,
        file_okay=True,
        metavar="FOLDER",
    ),
]
PortOption = Annotated[int, typer.Option(min=1, max=65535, help="Port of the address to open in the browser.")]

app = typer.Typer(
    name="footroom",
    help="How much room a drummer's ankles and hips have left while they really practise, per pedal and throne set-up.",
    epilog="For fit, teaching and research: not a medical device, no diagnosis, no injury prediction. Stop on pain.",
    no_args_is_help=False,
    add_completion=False,
    pretty_exceptions_enable=False,
)


app.add_typer(clips_app, name="clips")
app.command("record")(record_command)


def _print_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"footroom {version('footroom')}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def _every_command(
    context: typer.Context,
    verbose: Annotated[int, typer.Option("--verbose", "-v", count=True, help="Say more; -vv for everything.")] = 0,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Only errors.")] = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Settings that hold for every subcommand."""
    set_up_logging(verbose, quiet)
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def set_up_logging(verbose: int = 0, quiet: bool = False) -> None:
    """Send log lines to stderr: warnings as they are, information with one -v, everything with -vv."""
    level = logging.ERROR if quiet else {0: logging.WARNING, 1: logging.INFO}.get(verbose, logging.DEBUG)
    logging.basicConfig(level=level, stream=sys.stderr, format="%(levelname)s: %(message)s")
    if verbose < 2:  # one line for every file the browser fetches
        logging.getLogger("werkzeug").setLevel(max(level, logging.WARNING))


@app.command("import")
def import_(
    folder: Annotated[Path, typer.Argument(help="A folder with import.toml and one CSV file per clip.")],
    logbook: LogbookOption,
) -> None:
    """Bring a recording (import.toml + CSV files) into the logbook; prints the session id."""
    from ..logger.command import import_command

    import_command(folder, logbook)


@app.command()
def recover(
    logbook: LogbookOption,
    recordings: Annotated[
        list[str] | None, typer.Argument(metavar="[RECORDING]...", help="Default: all that were broken off.")
    ] = None,
    list_only: Annotated[bool, typer.Option("--list", help="Only show them.")] = False,
) -> None:
    """Make sessions of recordings that were broken off (a pulled plug, a closed lid); prints their ids.

    Nothing that is still being recorded is touched.
    """
    from ..logger.recorder.recover_command import recover_command

    status = recover_command(logbook, recordings or [], list_only)
    if status:
        raise typer.Exit(status)


@app.command()
def analyze(
    logbook: LogbookOption,
    sessions: Annotated[list[str] | None, typer.Argument(metavar="[SESSION]...", help="Default: all.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Also what is unchanged.")] = False,
    jobs: Annotated[int, typer.Option(min=1, help="Processes to use.")] = 1,
) -> None:
    """Angles, and the time spent near the end of the active range."""
    from ..analysis.command import analyze_command

    status = analyze_command(logbook, sessions or [], force=force, jobs=jobs)
    if status:
        raise typer.Exit(status)


@app.command()
def compare(
    logbook: LogbookOption,
    participant: Annotated[str, typer.Option(metavar="ID", help="Whose set-ups.")],
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    mixed: Annotated[bool, typer.Option("--mixed", help="Also other footwear, exercise, throne height.")] = False,
) -> None:
    """Compare one participant's set-ups: the difference, how sure it is, and what it rests on."""
    from ..analysis.command import compare_command

    compare_command(logbook, participant, json, mixed=mixed)


ParticipantOption = Annotated[str, typer.Option(metavar="ID", help="Whose; a pseudonym.")]
LengthOption = Annotated[
    list[str] | None,
    typer.Option("--person", metavar="KEY=VALUE", help="A length of the person, such as stature_cm=172; repeatable."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON.")]


@app.command()
def setup(
    logbook: LogbookOption,
    participant: ParticipantOption,
    name: Annotated[str | None, typer.Argument(help="Which set-up; default: all are shown.")] = None,
    values: Annotated[
        list[str] | None, typer.Argument(metavar="[KEY=VALUE]...", help="Measured values to note, such as reach_cm=44.")
    ] = None,
    person: LengthOption = None,
    json: JsonOption = False,
) -> None:
    """Note a throne and pedal set-up as measured, or show the known ones and what was changed."""
    from ..analysis.setup_command import setup_command

    setup_command(logbook, participant, name, values or (), person or (), json=json)


@app.command()
def placement(
    logbook: LogbookOption,
    participant: ParticipantOption,
    setup: Annotated[
        str | None, typer.Option(metavar="NAME", help="From which set-up; default: the chosen one.")
    ] = None,
    heel_up: Annotated[
        bool | None, typer.Option("--heel-up/--heel-down", help="How it is played; default: as measured.")
    ] = None,
    json: JsonOption = False,
) -> None:
    """Where the pedals may stand for this throne height, what limits, and what to try next."""
    from ..analysis.fitting_command import placement_command

    placement_command(logbook, participant, setup, heel_up=heel_up, json=json)


@app.command("range")
def range_(
    logbook: LogbookOption,
    participant: ParticipantOption,
    values: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SIDE.MOTION=DEG,DEG,...]...", help="Kept repetitions, e.g. right.ankle_dorsiflexion=14,15,15."
        ),
    ] = None,
    instrument: Annotated[str, typer.Option(help="goniometer, inclinometer, phone or other.")] = "goniometer",
    footwear: Annotated[str | None, typer.Option(help="barefoot, socks, or the shoes worn.")] = None,
    throne_height_cm: Annotated[
        float | None, typer.Option("--throne-height-cm", help="Loaded seat height (cm); default: as noted last.")
    ] = None,
    pain: Annotated[float | None, typer.Option(min=0, max=10, help="Pain, 0-10. Stop above 3.")] = None,
    person: LengthOption = None,
    method: Annotated[
        str, typer.Option(help="How an end is formed: mean_of_last_three, median or best_of_n.")
    ] = "mean_of_last_three",
    json: JsonOption = False,
) -> None:
    """Note ranges measured by hand, or show the range sheet, recorded range checks included. Stop on pain."""
    from ..analysis.fitting_command import range_command

    range_command(
        logbook,
        participant,
        values or (),
        person or (),
        instrument=instrument,
        footwear=footwear,
        throne_height_cm=throne_height_cm,
        pain=pain,
        method=method,
        json=json,
    )


@app.command()
def dashboard(
    logbook: LogbookOption,
    host: Annotated[str, typer.Option(help="Address to listen on; 127.0.0.1 is this computer only.")] = "127.0.0.1",
    port: PortOption = 8050,
) -> None:
    """Show the logbook in the browser. Everything stays on this computer."""
    from .serve import serve_logbook

    serve_logbook(logbook, host, port)


@app.command()
def demo(port: PortOption = 8050) -> None:
    """Build the sample logbook (no hardware needed), analyse it and show it in the browser."""
    from .demo import run_demo

    run_demo(port)


@app.command()
def version() -> None:
    """Print the version."""
    _print_version(True)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit status; errors become one sentence on stderr here and nowhere else.

    arguments : what follows `footroom` on the command line; None takes it from there.
    """
    from ..logger.errors import FootroomError, system_sentence

    try:
        result = app(arguments, prog_name="footroom", standalone_mode=False)
    except FootroomError as error:
        return _refuse(str(error), error.exit_status)
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output went away (`footroom compare ... | head`): nothing left to say to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:
        return _refuse(system_sentence(error), 2)
    except Exception as error:
        message = getattr(error, "format_message", None)  # a usage error of the command-line library
        if message is None:
            raise
        where = getattr(error, "ctx", None)
        return _refuse(f"{message().rstrip('.')}. See `{where.command_path if where else 'footroom'} --help`.", 2)
    return result if isinstance(result, int) else 0


def _refuse(sentence: str, status: int) -> int:
    typer.echo(f"footroom: {' '.join(sentence.split())}", err=True)
    return status


def main() -> NoReturn:
    """The console script `footroom`."""
    sys.exit(run())
