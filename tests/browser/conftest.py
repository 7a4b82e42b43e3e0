"""A real browser against a real server."""

import logging
import shutil
import threading
from contextlib import contextmanager

import pytest
from werkzeug.serving import make_server

from tests.conftest import make_app, missing


@pytest.fixture(scope="session")
def chromium():
    """Debian's Chromium, headless; skipped with a plain reason where there is none."""
    path = (
        shutil.which("chromium")
        or shutil.which("chromium-browser")
        or shutil.which("google-chrome")
    )
    if path is None:
        missing("no Chromium on this machine; install the package chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@contextmanager
def served(path):
    """The address of a server over a database file."""
    app = make_app(path)
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
        app.extensions["engine"].dispose()


@pytest.fixture
def empty_school(empty_file, tmp_path):
    """A server with the shipped library and nobody in it."""
    path = tmp_path / "school.db"
    shutil.copy(empty_file, path)
    with served(path) as address:
        yield address


@pytest.fixture(scope="module")
def sample_school(sample_file, tmp_path_factory):
    """A server over a copy of the sample school."""
    path = tmp_path_factory.mktemp("browser") / "demo.db"
    shutil.copy(sample_file, path)
    with served(path) as address:
        yield address
