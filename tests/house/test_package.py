"""The wheel holds everything the program needs: it is built, installed elsewhere, and used."""

import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*command, cwd, **environment):
    """A command that must succeed, with nothing of this tree on its path."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=kept | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel of this tree; its build tool comes from the running environment, not the network."""
    folder = tmp_path_factory.mktemp("wheel")
    run(
        *(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation"),
        *("-w", folder, ROOT),
        cwd=folder,
    )
    (built,) = folder.glob("stringcourse-*.whl")
    return built


def test_every_file_of_the_tree_travels(wheel):
    wanted = {
        file if file.startswith("app/") else f"app/{file}"
        for folder in ("app", "migrations", "seed_data")
        for file in (path.relative_to(ROOT).as_posix() for path in (ROOT / folder).rglob("*.*"))
        if "__pycache__" not in file
    }

    assert {"app/migrations/env.py", "app/seed_data/demo/school.toml"} <= wanted
    assert wanted <= set(zipfile.ZipFile(wheel).namelist())


def test_an_installed_wheel_makes_the_sample_school_and_upgrades_it(wheel, tmp_path):
    venv.create(tmp_path / "venv", with_pip=False)
    folder = "Scripts" if os.name == "nt" else "bin"
    python = tmp_path / "venv" / folder / "python"
    site = run(
        python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=tmp_path
    ).strip()
    # Raw paths: the path files found there, such as that of a tree under development, do not count.
    beside = [path for path in sys.path if Path(path).name == "site-packages"]
    (Path(site) / "beside.pth").write_text(
        "\n".join({*beside, sysconfig.get_path("purelib")}) + "\n"
    )
    run(
        *(sys.executable, "-m", "pip", "--python", python, "install", "-q", "--no-index"),
        *("--no-deps", "--force-reinstall", wheel),
        cwd=tmp_path,
    )
    command = tmp_path / "venv" / folder / "stringcourse"
    data = {"STRINGCOURSE_DATA": str(tmp_path / "data")}

    place = run(python, "-c", "import app; print(app.__file__)", cwd=tmp_path).strip()
    made = run(command, "demo", "--no-serve", cwd=tmp_path, **data)
    upgraded = run(command, "upgrade", cwd=tmp_path, **data)
    listed = run(command, "sections", cwd=tmp_path, **data)

    assert place.startswith(site)
    assert "The sample school is in" in made
    assert "The database is at version" in upgraded
    assert {line.split("\t")[0] for line in listed.splitlines()} == {
        *("block-4", "grade-5-box", "period-3")
    }
