"""What a recording that was broken off still holds: killed in the middle, and brought back by `footroom recover`."""

import signal

import pytest
from footroom.dashboard.command import run
from footroom.logger.errors import RecordingRunning
from footroom.logger.recorder.folders import is_running, recording_folders
from footroom.logger.recorder.keeper import Keeper
from footroom.logger.recorder.rebuild import finish
from recorded import HOST_S, check_kept, keep, kill_after, logbook_at, make
from sent import about_of, facts_of, frames


@pytest.fixture
def logbook(tmp_path):
    return logbook_at(tmp_path / "L")


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kill -9 is tried where the system knows it")
@pytest.mark.parametrize("seconds", [1.13, 2.71])
def test_a_killed_recording_loses_less_than_a_second(logbook, seconds, capsys):
    _, _, handed_in = kill_after(logbook, seconds)
    (folder,) = recording_folders(logbook.path)
    assert not is_running(logbook.path, folder)
    with Keeper(logbook.path, about_of(1)):  # the lock of a dead process does not bar the next recording
        pass
    kept = finish(logbook, folder)
    check_kept(logbook, kept, handed_in)
    assert "it was broken off, so up to a second at the end may be missing." in kept.sentence
    (playing,) = logbook.session(kept.session_id).phases
    assert (playing.name, playing.setup) == ("playing", "near")
    assert playing.end_s == pytest.approx(handed_in / 200, abs=1.1)


def broken_off(logbook, participant="wren", until_s=5.0):
    """A recording whose process ended without closing it."""
    keeper = Keeper(logbook.path, about_of(1, participant), [facts_of(0)])
    keeper.begin("playing", HOST_S + 1, setup="near")
    keep(keeper, frames(0, until_s, host_s=HOST_S))
    keeper._held.close()  # what the system does when a process dies
    return keeper.folder


def test_recover_makes_a_session_of_each_and_prints_its_id(logbook, capsys):
    names = [broken_off(logbook, who).name for who in ("dunnock", "wren")]
    assert run(["recover", "--list", "--logbook", str(logbook.path)]) == 0
    assert capsys.readouterr().out.splitlines() == [f"{name}  broken off" for name in names]
    assert run(["recover", "--logbook", str(logbook.path)]) == 0
    out, err = capsys.readouterr()
    assert out.split() == sorted(logbook.session_ids())
    assert err.splitlines() == [
        *(
            f"{name}: 1 clip, 5.0 s kept; nothing lost; it was broken off, so up to a second at the end may be missing."
            for name in names
        ),
        f"Next: footroom analyze {' '.join(out.split())} --logbook {logbook.path}",
    ]
    assert run(["recover", "--logbook", str(logbook.path)]) == 0
    assert capsys.readouterr().err == "No recording was broken off; there is nothing to recover.\n"


def test_recover_leaves_a_running_recording_alone(logbook, capsys):
    with Keeper(logbook.path, about_of(1, "dunnock"), [facts_of(0)]) as keeper:
        keep(keeper, frames(0, 3, host_s=HOST_S))
        assert run(["recover", keeper.folder.name, "--logbook", str(logbook.path)]) == 2
        assert f"the recording {keeper.folder.name} is still running; end it where it runs." in capsys.readouterr().err
        assert run(["recover", "--logbook", str(logbook.path)]) == 0
        assert f"{keeper.folder.name}: still running, left alone." in capsys.readouterr().err
        with pytest.raises(RecordingRunning, match="still running"):
            logbook.delete_participant("dunnock")
    assert logbook.session_ids() == [] and keeper.folder.is_dir()


def test_recover_takes_a_name_or_a_folder_and_refuses_what_is_none(logbook, capsys):
    first, second = (broken_off(logbook, who) for who in ("dunnock", "wren"))
    assert run(["recover", str(first), "--logbook", str(logbook.path)]) == 0
    assert run(["recover", "lark", "--logbook", str(logbook.path)]) == 2
    assert f"no recording 'lark' in {logbook.path}; there are {second.name}." in capsys.readouterr().err
    assert run(["recover", second.name, "--logbook", str(logbook.path)]) == 0
    assert run(["recover", second.name, "--logbook", str(logbook.path)]) == 2
    assert "nothing there waits to be recovered" in capsys.readouterr().err


def test_recover_goes_on_after_one_that_cannot_be_read(logbook, capsys):
    spoilt, good = (broken_off(logbook, who) for who in ("dunnock", "wren"))
    for path in spoilt.iterdir():
        path.write_bytes(b"\0" * path.stat().st_size)
    assert run(["recover", "--logbook", str(logbook.path)]) == 1
    out, err = capsys.readouterr()
    assert "nothing in it says any more whose recording it is" in err
    assert out.split() == logbook.session_ids() and len(logbook.session_ids()) == 1
    assert spoilt.is_dir() and not good.exists()
    assert run(["recover", "--logbook", str(logbook.path)]) == 2


def test_recover_clears_away_what_holds_nothing(logbook, capsys):
    folder = make(logbook, about_of(1), [])
    assert run(["recover", "--logbook", str(logbook.path)]) == 0
    assert "holds no samples that can be used" in capsys.readouterr().err and not folder.exists()


def test_a_person_who_is_deleted_leaves_no_recording(logbook):
    mine, other = broken_off(logbook, "wren"), broken_off(logbook, "wren-2")
    finish(logbook, broken_off(logbook, "wren"))
    assert logbook.delete_participant("wren") and not mine.exists() and other.is_dir()
    alone = broken_off(logbook, "lark")
    assert logbook.delete_participant("lark") == [] and not alone.exists()
    assert not [path for path in (logbook.path / ".locks").iterdir() if "lark" in path.name]
