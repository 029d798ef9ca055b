"""W15 to W17 and W24 (ASVS 1.3.6, 1.5.1, 1.5.2, 1.2.4, 15.1.1, 15.2.1): what the code itself must not hold."""

import ast
import re
from importlib.metadata import version

import pytest
from django.conf import settings

SOURCES = [path for part in ("labrecords", "analysis") for path in (settings.ROOT / part).rglob("*.py")]
REQUIREMENTS = (settings.ROOT / "requirements.txt").read_text().splitlines()


def called(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func), node


def imported(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


# W17, 1.2.4: SQL takes its values as parameters
def test_no_sql_is_put_together_from_text():
    found = []
    for path in SOURCES:
        if "postgresql" in path.parts or "migrations" in path.parts:
            continue  # the launcher speaks to its own server with names of its own
        for name, node in called(path):
            last = name.rpartition(".")[2]
            if last in {"raw", "extra", "RawSQL"}:
                found.append(f"{path.name}:{node.lineno} {name}")
            if last in {"execute", "executemany"} and node.args and isinstance(node.args[0], ast.JoinedStr | ast.BinOp):
                found.append(f"{path.name}:{node.lineno} {name}")
    assert found == []


# W15, 1.3.6, 15.3.2: nothing is fetched from an address that somebody gave
def test_nothing_of_ours_can_fetch_an_address():
    fetching = {"urllib.request", "requests", "httpx", "http.client", "aiohttp", "ftplib", "smtplib", "telnetlib"}
    assert {f"{path.name}: {name}" for path in SOURCES for name in imported(path) if name in fetching} == set()


# W16, 1.5.1 and 1.5.2: no format that runs code or reads files
def test_nothing_that_was_sent_is_read_as_pickle_yaml_or_xml():
    readers = {"pickle", "shelve", "marshal", "yaml", "xml.etree.ElementTree", "xml.dom.minidom", "lxml", "dill"}
    assert {f"{path.name}: {name}" for path in SOURCES for name in imported(path) if name in readers} == set()
    running = {"eval", "exec", "compile", "os.system", "os.popen", "pd.read_pickle", "np.load"}
    assert {f"{path.name}: {name}" for path in SOURCES for name, _ in called(path) if name in running} == set()


# W17, 3.2.1: templates escape, always
def test_no_template_turns_escaping_off():
    found = [
        f"{path.name}: {word}"
        for path in (settings.ROOT / "labrecords" / "templates").rglob("*.html")
        for word in re.findall(r"\|safe\b|autoescape off|\|safeseq", path.read_text())
    ]
    assert found == []


def test_markup_is_made_in_one_place_only():
    makers = {path.name for path in SOURCES for name, _ in called(path) if name in {"mark_safe", "SafeString"}}
    assert makers <= {"svg.py"}


# W24, 15.1.1 and 15.2.1: an inventory with exact versions, which is what is installed
PINNED = [line.partition("#")[0].strip() for line in REQUIREMENTS if line.partition("#")[0].strip()]


@pytest.mark.parametrize("line", PINNED)
def test_requirement_is_an_exact_version_and_the_installed_one(line):
    found = re.fullmatch(r"([A-Za-z0-9._-]+)(\[[a-z,]+\])?==([0-9][0-9A-Za-z.]*)", line)
    assert found, line
    assert version(found[1]) == found[3]


def test_every_requirement_says_why_it_is_here():
    bare = [line for line in REQUIREMENTS if line and not line.startswith("#") and "#" not in line]
    assert bare == []
    assert len(PINNED) > 30
