"""`make demo` as a newcomer runs it: it sets itself up, the page answers, Ctrl-C ends it.

python .ci/try_demo.py CHECKOUT
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request

LONGEST_S = 600.0


def free_port() -> int:
    """A port of 127.0.0.1 that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def answers(address: str) -> bool:
    """Whether the page is there and is ours."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(address, timeout=10) as reply:
            return reply.status == 200 and b"Footroom" in reply.read()
    except (urllib.error.URLError, OSError):
        return False


def main(checkout: str) -> int:
    """0 when the demo came up and ended on Ctrl-C."""
    port = free_port()
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell in the background hands it on as ignored
    # A group of its own, so that the interrupt reaches make and all it started, as Ctrl-C in a terminal does.
    demo = subprocess.Popen(["make", "-C", checkout, "demo", f"PORT={port}"], start_new_session=True)
    try:
        begin = time.monotonic()
        while not answers(f"http://127.0.0.1:{port}/"):
            if demo.poll() is not None:
                print(f"make demo ended with {demo.returncode} before its page answered")
                return 1
            if time.monotonic() - begin > LONGEST_S:
                print(f"make demo did not answer within {LONGEST_S:.0f} s")
                return 1
            time.sleep(1.0)
        print(f"the page answered after {time.monotonic() - begin:.0f} s", flush=True)
        os.killpg(demo.pid, signal.SIGINT)
        status = demo.wait(timeout=30)
        print(f"Ctrl-C ended it with {status}")
        return 0 if status in (0, 2, 130, -signal.SIGINT) else 1
    finally:
        if demo.poll() is None:
            os.killpg(demo.pid, signal.SIGKILL)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
