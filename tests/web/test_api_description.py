"""The description of the calculators' addresses says all they answer, tried property by property."""

import os
import re
import subprocess
import sys
import threading

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

# A text is read as people write numbers, which no schema describes: that texts are refused with
# 422 and a sentence is described, and told by the tests of the calculators. Every other check runs.
LEFT_OUT = "positive_data_acceptance"


class Quiet(WSGIRequestHandler):
    """Says nothing of thousands of requests."""

    def log(self, *_words):
        """Keep still."""


@pytest.fixture
def address(app):
    """The application behind a real server."""
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()
    thread.join()


def test_every_answer_to_every_kind_of_request_is_described(address, tmp_path):
    """Valid and invalid values, missing and unknown ones, and methods nobody declared."""
    done = subprocess.run(
        [
            *(sys.executable, "-m", "schemathesis.cli", "run"),
            *(f"{address}/api/v1/openapi.json", "--phases=coverage,fuzzing", "--seed=1"),
            *("--max-examples=8", f"--exclude-checks={LEFT_OUT}", "--generation-database=none"),
        ],
        cwd=tmp_path,
        env={**os.environ, "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    tried = re.search(r"(\d+) generated, (\d+) passed", done.stdout)
    assert tried, done.stdout
    assert int(tried[1]) == int(tried[2]) > 1000


def test_a_refused_method_names_those_that_are_allowed(client):
    """RFC 9110, 15.5.6."""
    answer = client.delete("/api/v1/calculators/beats")

    assert answer.status_code == 405
    assert {"GET", "HEAD", "OPTIONS"} <= set(answer.allow)
