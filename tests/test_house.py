"""The rules of the house, as tests."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "manage.py",
    "labrecords",
    "analysis",
    "fixtures",
    "tests",
    "requirements.txt",
}
SOURCES = [path for part in ("labrecords", "analysis") for path in (ROOT / part).rglob("*.py")]


def tracked():
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [Path(name) for name in names.splitlines()]


def imported_modules(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module


@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="not a git checkout")
def test_visible_top_level_is_exactly_the_agreed_one():
    assert {path.parts[0] for path in tracked() if not path.parts[0].startswith(".")} == TOP_LEVEL


def test_labrecords_imports_the_analysis_through_its_front_door_only():
    inner = {
        f"{path.relative_to(ROOT)}: {module}"
        for path in (ROOT / "labrecords").rglob("*.py")
        for module in imported_modules(path)
        if module.startswith("analysis.")
    }
    assert inner == set()


def test_imports_point_one_way():
    done = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--config", ".importlinter"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_faces_write_nothing_themselves():
    """Pages, API, reports, files and commands call actions; they never save, create, update or delete rows."""
    writes = {"save", "create", "bulk_create", "bulk_update", "update_or_create", "get_or_create", "delete"}
    found = set()
    for part in ("web", "api", "reports", "exchange", "management"):
        for path in (ROOT / "labrecords" / part).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                if not (
                    isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in writes
                ):
                    continue
                # A write goes through a manager (`.objects.`) or a row's save(); dicts and actions may share a verb.
                chain = ast.unparse(node.func.value)
                if "objects" in chain or (node.func.attr == "save" and chain != "super()"):
                    found.add(f"{path.relative_to(ROOT)}:{node.lineno} {ast.unparse(node.func)}")
    assert found == set()


@pytest.mark.parametrize("name", ["utils", "helpers", "common", "manager", "base", "service"])
def test_no_dumping_ground(name):
    named = [path for path in SOURCES if path.stem == name]
    # Django looks for a database backend in a module of this name.
    assert [path for path in named if path.parent.name != "postgresql"] == []


def test_no_own_path_or_index_host_in_the_project():
    words = ["/" + "work/", "pypi" + "-more", "127.0.0.1" + ":31", "index" + "-url"]
    found = [
        f"{path}: {word}"
        for path in tracked()
        if path.suffix in {".py", ".md", ".txt", ".html", ".js", ".css", ".csv", ".json"}
        for word in words
        if word in (ROOT / path).read_text(errors="ignore")
    ]
    assert found == []
