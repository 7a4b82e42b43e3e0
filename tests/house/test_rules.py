"""The house rules: what stands where, what may import what, what every part must have."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
APP = ROOT / "app"
PYTHON = sorted(APP.rglob("*.py"))
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "app",
    "migrations",
    "tests",
    "seed_data",
    "LICENSE",
}
DRAWERS = {"util", "utils", "helper", "helpers", "common", "misc", "service", "services"}


def tracked():
    """Files under version control; a folder unpacked without git is read as it is."""
    found = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if found.returncode:
        return [str(path.relative_to(ROOT)) for path in ROOT.rglob("*") if path.is_file()]
    return found.stdout.split("\n")[:-1]


def test_the_top_level_is_the_design_card():
    names = {path.split("/")[0] for path in tracked()}

    assert {name for name in names if not name.startswith(".")} <= TOP


def test_no_drawer_holds_everything():
    names = {part.removesuffix(".py") for path in PYTHON for part in path.relative_to(APP).parts}

    assert not names & DRAWERS


def test_no_function_is_longer_than_sixty_lines():
    long = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in PYTHON
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and node.end_lineno - node.lineno + 1 > 60
    ]

    assert not long


def commits(path):
    return [
        node.lineno
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "commit"
    ]


def test_only_routes_the_command_line_and_the_worker_commit():
    def may(path):
        has_routes = "@bp." in path.read_text()
        return has_routes or path.name == "worker.py" or APP / "cli" in path.parents

    wrong = [str(path.relative_to(ROOT)) for path in PYTHON if commits(path) and not may(path)]

    assert not wrong


def test_importing_the_domain_loads_no_framework():
    code = (
        "import sys, app.domain, app.domain.calculators, app.domain.papers.worksheets, "
        "app.domain.scheduling.problem, app.domain.standard.depth, app.domain.scheduling.lessons\n"
        "bad = {'flask', 'sqlalchemy', 'pydantic', 'ortools', 'sympy', 'numpy'} & set(sys.modules)\n"
        "print(sorted(bad)); sys.exit(bool(bad))"
    )

    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert done.returncode == 0, done.stdout + done.stderr


def test_imports_go_down_the_house():
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command as c; c(['--no-cache'])",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout


def test_every_template_compiles_and_is_free_of_inline_script_and_style(app):
    for name in app.jinja_env.list_templates():
        source, _, _ = app.jinja_env.loader.get_source(app.jinja_env, name)
        app.jinja_env.compile(source)
        assert not re.search(r"<style|\sstyle=|\son\w+=|javascript:", source), name
        assert not re.search(r"<script(?![^>]*\ssrc=)", source), name


def test_addresses_are_kebab_case_with_typed_numbers(app):
    for rule in app.url_map.iter_rules():
        bare = re.sub(r"<[^>]+>", "", rule.rule)
        assert re.fullmatch(r"[a-z0-9/.\-]*", bare), rule.rule
        for converter, name in re.findall(r"<(?:(\w+)(?:\([^)]*\))?:)?(\w+)>", rule.rule):
            if name.endswith("_id") or name == "number":
                assert converter == "int", rule.rule


def test_reading_requests_have_no_writing_session(app):
    from app.web.request_session import ReadingSession

    with app.test_request_context("/"):
        from app.web.request_session import db

        assert isinstance(db(), ReadingSession)
        from app.models import School

        db().add(School(name="written by a GET"))
        with pytest.raises(RuntimeError, match="GET request tried to write"):
            db().flush()


@pytest.mark.parametrize("word", ["TODO", "FIXME", "being built", "lorem ipsum"])
def test_nothing_is_left_as_a_scaffold(word):
    wrong = [
        str(path.relative_to(ROOT))
        for folder in ("app", "seed_data")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in {".py", ".html", ".css", ".js", ".toml", ".typ"}
        and word in path.read_text()
    ]

    assert not wrong


def test_the_readme_says_when_a_class_set_is_large_and_how_long_it_is_kept():
    from app.jobs.sheets import MOST_AT_ONCE
    from app.store.paper.class_sets import KEPT_DAYS

    text = (ROOT / "README.md").read_text()
    assert f"A class set of more than {MOST_AT_ONCE} is made outside the page" in text
    assert f"its files stay for {KEPT_DAYS} days" in text
