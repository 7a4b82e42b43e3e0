"""The command line run in this process, on a copy of the sample school."""

import shutil

import pytest

from app import cli
from app.settings import embedded_url


@pytest.fixture
def run(sample_file, tmp_path, monkeypatch, capsys):
    """Run a command on a copy of the sample school: exit code, output, what went wrong."""
    path = tmp_path / "demo.db"
    shutil.copy(sample_file, path)
    monkeypatch.setenv("STRINGCOURSE_DATABASE", embedded_url(path))

    def call(*arguments):
        monkeypatch.setattr("sys.argv", ["stringcourse", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return ended.value.code or 0, said.out, said.err

    return call
