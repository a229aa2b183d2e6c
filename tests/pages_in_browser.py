"""Fixtures for pages in a real Chromium: the browser, and a server for a logbook."""

import os
import shutil
import threading

import pytest
from footroom.dashboard.app import create_app
from werkzeug.serving import make_server

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
FLAGS += ["--disable-component-update", "--disable-sync"]


@pytest.fixture(scope="module")
def browser():
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        if os.environ.get("FOOTROOM_REQUIRE_ALL") == "1":
            pytest.fail("chromium is missing, and FOOTROOM_REQUIRE_ALL=1 asks for every part")
        pytest.skip("chromium is not installed: the pages were not looked at")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield found
        found.close()


@pytest.fixture(scope="module")
def serve():
    live = []

    def start(path):
        server = make_server("127.0.0.1", 0, create_app(path).server, threaded=True)
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        live.append((server, thread))
        return f"http://127.0.0.1:{server.server_port}"

    yield start
    for server, thread in live:
        server.shutdown()
        thread.join()
        server.server_close()
