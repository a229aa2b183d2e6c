"""The one command: help, exit statuses, one sentence on stderr, a busy port, Ctrl-C."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import pytest
from dashboard_logbook import write_logbook
from footroom.dashboard import command
from footroom.dashboard.serve import check_address
from footroom.logger.errors import FootroomError, InputError


def footroom(*arguments, **environment):
    return subprocess.run(
        [sys.executable, "-m", "footroom", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
    )


@pytest.fixture
def busy_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen(1)
        yield taken.getsockname()[1]


def test_help_names_every_subcommand_and_the_caution():
    done = footroom("--help")
    assert done.returncode == 0 and done.stderr == ""
    for name in ("import", "analyze", "compare", "dashboard", "demo"):
        assert re.search(rf"\b{name}\b", done.stdout)
    assert "not a medical device" in " ".join(done.stdout.split())


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from footroom.dashboard.command import run; run(['--help']); "
        "print([m for m in ('dash', 'plotly', 'pandas', 'scipy', 'numpy', 'pyarrow', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, encoding="utf-8", check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_without_a_subcommand_the_help_is_shown(capsys):
    assert command.run([]) == 0
    assert "Commands" in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [["--version"], ["version"]])
def test_version(arguments, capsys):
    assert command.run(arguments) == 0
    assert re.fullmatch(r"footroom \d+\.\d+\.\d+\S*\n", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["dashboard", "--logbook", "no-such-folder"], "no-such-folder does not exist"),
        (["dashboard"], "--logbook"),
        (["fly"], "fly"),
        (["dashboard", "--logbook", "x", "--port", "0"], "port"),
        (["dashboard", "--logbook", "x", "--port", "many"], "as an integer. See `footroom dashboard --help`."),
        (["dashboard", "--logbook", "x", "--host", "no such host"], "Cannot listen on 'no such host'"),
    ],
)
def test_what_a_person_can_put_right_is_one_sentence_and_status_2(arguments, words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FOOTROOM_LOGBOOK", raising=False)
    assert command.run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == "" and words in err
    assert err.startswith("footroom: ") and err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_the_logbook_may_come_from_the_environment(tmp_path):
    done = footroom("dashboard", FOOTROOM_LOGBOOK=str(tmp_path / "elsewhere"))
    assert done.returncode == 2 and "elsewhere does not exist" in done.stderr


@pytest.mark.parametrize("arguments", [["dashboard", "--logbook", "x"], ["demo"]])
def test_a_busy_port_is_said_before_any_work(arguments, busy_port, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert command.run([*arguments, "--port", str(busy_port)]) == 2
    err = capsys.readouterr().err
    assert f"Port {busy_port} on 127.0.0.1 is in use by another program" in err
    assert re.search(rf"--port (?!{busy_port}\b)\d+", err) and err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_an_address_of_another_computer_is_refused():
    with pytest.raises(InputError, match="--host 127.0.0.1"):
        check_address("192.0.2.1", 8050)  # TEST-NET-1, RFC 5737


class OwnStatus(FootroomError):
    exit_status = 7


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (OwnStatus("Something\nelse."), 7, "footroom: Something else.\n"),
        (PermissionError(13, "Permission denied", "L/logbook.toml"), 2, "L/logbook.toml: Permission denied. Check"),
        (KeyboardInterrupt(), 130, ""),
    ],
)
def test_errors_become_exit_statuses_in_one_place(error, status, words, monkeypatch, capsys):
    def fail(*_):
        raise error

    monkeypatch.setattr("footroom.dashboard.serve.serve_logbook", fail)
    assert command.run(["dashboard", "--logbook", "x"]) == status
    assert words in capsys.readouterr().err


def test_a_fault_of_our_own_is_not_hidden(monkeypatch):
    def fail(*_):
        raise ZeroDivisionError("ours")

    monkeypatch.setattr("footroom.dashboard.serve.serve_logbook", fail)
    with pytest.raises(ZeroDivisionError, match="ours"):
        command.run(["dashboard", "--logbook", "x"])


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent as a POSIX signal here")
def test_the_dashboard_prints_its_address_serves_and_ends_on_ctrl_c(tmp_path):
    logbook = write_logbook(tmp_path / "L")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    started = [sys.executable, "-m", "footroom", "dashboard", "--logbook", str(logbook), "--port", str(port)]
    process = subprocess.Popen(started, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8")
    try:
        line = process.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/", line)
        assert address, line
        with urllib.request.urlopen(address[0], timeout=60) as answer:
            assert b'<html lang="en">' in answer.read()
            assert "connect-src 'self'" in answer.headers["Content-Security-Policy"]
        time.sleep(0.2)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    finally:
        process.kill()
        process.communicate()
    assert process.returncode == 130
    assert out == "" and err == "Footroom ended.\n"
