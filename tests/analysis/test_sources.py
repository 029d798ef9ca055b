"""Every key that the analysis names is a source, and every source says where or that it is from memory."""

import re
from pathlib import Path

import pytest

import analysis
from analysis.sources import SOURCES, citation

FILES = sorted(Path(analysis.__file__).parent.rglob("*.py"))


def test_keys_are_unique():
    folder = Path(analysis.sources.__file__).parent
    text = "\n".join(path.read_text() for path in sorted(folder.glob("*.py")))
    declared = re.findall(r'^    Source\(\s*"(\w+)"', text, re.M)
    assert len(declared) == len(set(declared)) == len(SOURCES) > 30


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_source_named_in_a_file_exists(path):
    """Keys after "Source:" in docstrings, and keys given as source= or to citation()."""
    text = path.read_text()
    named = {key for line in re.findall(r"Source: (.*(?:\n +`.*)?)", text) for key in re.findall(r"`(\w+)`", line)}
    named |= set(re.findall(r'source=?\s*=\s*"(\w+)"', text)) | set(re.findall(r'citation\("(\w+)"\)', text))
    assert named <= set(SOURCES)


def test_an_unknown_key_is_a_mistake():
    with pytest.raises(KeyError):
        citation("no_such_source")


@pytest.mark.parametrize("key", [key for key in SOURCES if key.startswith(("iso_19403", "astm_d7334", "iso_ts"))])
def test_standards_of_the_methods_claim_no_conformity_beyond_their_scope(key):
    assert "scope only read" in citation(key)
