"""Serve a logbook to a browser on this computer, until Ctrl-C."""

from __future__ import annotations

import errno
import ipaddress
import logging
import signal
import socket
import sys
import threading
from pathlib import Path

from ..logger.errors import InputError

log = logging.getLogger(__name__)


def serve_logbook(logbook: Path, host: str, port: int) -> None:
    """Serve the dashboard of `logbook` at http://host:port/ until Ctrl-C.

    Raises LogbookError if there is no logbook there, InputError if the address cannot be used, and
    KeyboardInterrupt on Ctrl-C, after the server is closed.
    """
    check_address(host, port)
    from werkzeug.serving import make_server

    from .app import create_app

    app = create_app(logbook)
    try:
        server = make_server(host, port, app.server, threaded=True)
    except SystemExit:  # taken by somebody else since the check above
        raise _busy(host, port) from None
    shown = f"[{host}]" if ":" in host else host
    if not _only_this_computer(host):
        log.warning("everyone who can reach %s can read this logbook; there is no password", shown)
    print(f"Footroom shows {logbook} at http://{shown}:{port}/   (Ctrl-C ends it)", flush=True)
    # A shell that starts us in the background leaves Ctrl-C ignored: ask for it.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    threading.Thread(target=_warm_up, daemon=True).start()
    server.serve_forever()  # returns, with the server closed, on Ctrl-C
    print("Footroom ended.", file=sys.stderr, flush=True)
    raise KeyboardInterrupt


def _warm_up() -> None:
    """Import what the first page will need while the browser is still fetching scripts."""
    import pyarrow.parquet  # noqa: F401
    import tsdownsample  # noqa: F401

    from ..analysis import comparison  # noqa: F401
    from .figures.theme import drawn

    drawn([{"type": "scatter", "x": [0], "y": [0]}, {"type": "bar", "x": [0], "y": [0]}], {}, 100)


def check_address(host: str, port: int) -> None:
    """Try to listen at host:port for an instant.

    Raises InputError if the port is taken or the address is not one of this computer's.
    """
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            if sys.platform == "win32":
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
            else:
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
            probe.listen(1)
    except PermissionError:
        raise InputError(f"Port {port} is not allowed for this user: choose one from 1024 up, `--port 8050`.") from None
    except OSError as error:
        if error.errno in (errno.EADDRINUSE, getattr(errno, "WSAEADDRINUSE", -1)):
            raise _busy(host, port) from None
        raise InputError(
            f"Cannot listen on {host!r} ({error.strerror or error}): use `--host 127.0.0.1` for this computer only."
        ) from None


def _busy(host: str, port: int) -> InputError:
    other = port + 1 if port < 65535 else port - 1
    return InputError(
        f"Port {port} on {host} is in use by another program: end that one, or choose another with `--port {other}`."
    )


def _only_this_computer(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
