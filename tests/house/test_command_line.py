"""Every command has help and stands in the README; wrong use is one sentence and exit code 2."""

import subprocess
import sys
from pathlib import Path

import click
import pytest

from app.cli import command

ROOT = Path(__file__).resolve().parents[2]


def commands(group=command, before=""):
    for name, item in sorted(group.commands.items()):
        if isinstance(item, click.Group):
            yield from commands(item, f"{before}{name} ")
        else:
            yield f"{before}{name}", item


@pytest.mark.parametrize(("name", "item"), list(commands()), ids=str)
def test_every_command_has_help_and_stands_in_the_readme(name, item):
    assert item.help.strip().endswith((".", "?"))
    assert f"`{name}`" in (ROOT / "README.md").read_text()


def run(*words, folder):
    return subprocess.run(
        [sys.executable, "-c", "from app.cli import main; main()", *words],
        cwd=ROOT,
        env={"STRINGCOURSE_DATA": str(folder), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["plan", "--section", "nobody"], "there is no database yet"),
        (["week"], "Missing option"),
        (["nonsense"], "No such command"),
        (["load", "not-there.toml"], "cannot be read"),
        (["calc", "fret-positions", "scale_length=__import__('os')"], "Scale length"),
    ],
)
def test_wrong_use_is_a_sentence_and_exit_code_two(words, says, tmp_path):
    done = run(*words, folder=tmp_path)

    assert done.returncode == 2, done.stdout + done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_database_of_an_older_version_is_offered_an_upgrade(tmp_path, sample_file):
    import shutil
    import sqlite3

    path = tmp_path / "school.db"
    shutil.copy(sample_file, path)
    connection = sqlite3.connect(path)
    connection.execute("UPDATE alembic_version SET version_num = '0001'")
    connection.commit()
    connection.close()

    done = run("library", folder=tmp_path)

    assert done.returncode == 2
    assert "stringcourse upgrade" in done.stderr


def test_a_taken_port_is_said_before_anything_is_made(tmp_path):
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = run("demo", "--port", str(port), folder=tmp_path)

    assert done.returncode == 2
    assert f"port {port}" in done.stderr
    assert "--port" in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_written_is_said_in_words(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")

    done = run("demo", "--no-serve", folder=blocked / "below")

    assert done.returncode == 2
    assert "STRINGCOURSE_DATA" in done.stderr


def test_the_table_in_the_docs_is_the_data(empty_file):
    done = run("library", "--table", folder=empty_file.parent)
    text = (ROOT / "DEVELOPERS.md").read_text()

    assert done.returncode == 0, done.stderr
    shown = text.split("<!-- library table -->")[1].split("<!-- end of the library table -->")[0]
    assert done.stdout.strip() == shown.strip()
