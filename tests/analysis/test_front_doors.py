"""Every public name of the science stands at a door, documented as the house wants it, with an example that runs."""

import importlib
import inspect
import pkgutil
import re

import pytest

import analysis
from analysis.formula import FORMULAS
from analysis.sources import SOURCES

DOORS = ("wetting", "film", "optics", "measures", "statistics")
PUBLIC = [
    pytest.param(door, name, getattr(getattr(analysis, door), name), id=f"{door}.{name}")
    for door in DOORS
    for name in getattr(analysis, door).__all__
]
FUNCTIONS = [case for case in PUBLIC if inspect.isfunction(inspect.unwrap(case.values[2]))]
HEADINGS = ("Parameters", "Returns", "Raises")


def modules_of(door):
    package = getattr(analysis, door)
    for item in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        yield importlib.import_module(item.name)


@pytest.mark.parametrize("door", DOORS)
def test_what_a_module_makes_public_stands_at_its_door(door):
    offered = {id(getattr(getattr(analysis, door), name)) for name in getattr(analysis, door).__all__}
    hidden = {
        f"{module.__name__}.{name}"
        for module in modules_of(door)
        for name, thing in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(thing) or inspect.isclass(thing))
        and getattr(thing, "__module__", "") == module.__name__
        and hasattr(thing, "formula")
        and id(thing) not in offered
    }
    assert hidden == set()


@pytest.mark.parametrize("door", DOORS)
def test_door_lists_each_name_once(door):
    names = getattr(analysis, door).__all__
    assert len(names) == len(set(names))


@pytest.mark.parametrize(("door", "name", "function"), FUNCTIONS)
def test_function_is_documented_and_has_an_example(door, name, function):
    text = inspect.getdoc(function)
    assert text, "no docstring"
    first = text.split("\n\n")[0]
    assert first.rstrip().endswith((".", "].", ")", "?")), first
    assert re.search(r"^>>> ", text, re.M), "no example"
    assert re.search(r"Source: ?", text), "no source"
    if len(inspect.signature(function).parameters) and "formula" in vars(function):
        assert re.search(r"^Parameters\n-+$", text, re.M)
        assert re.search(r"^Returns\n-+$", text, re.M)


@pytest.mark.parametrize(("door", "name", "thing"), [case for case in PUBLIC if inspect.isclass(case.values[2])])
def test_record_says_what_it_is(door, name, thing):
    assert inspect.getdoc(thing)
    assert not inspect.getdoc(thing).startswith(f"{name}(")  # the signature that dataclasses make up is no text


@pytest.mark.parametrize("key", FORMULAS)
def test_formula_has_statement_source_and_inputs_as_the_docstring_names_them(key):
    found = FORMULAS[key]
    assert found.statement.strip()
    assert found.title.endswith((".", "].", ")", "?"))
    assert set(found.source.split()) <= set(SOURCES)
    assert found.source.split()
    assert found.gives, "the Returns section could not be read"
    assert all(said for _, said in found.inputs)


@pytest.mark.parametrize("key", FORMULAS)
def test_formula_names_every_parameter(key):
    module, _, name = key.rpartition(".")
    function = getattr(importlib.import_module(f"analysis.{module}"), name)
    wanted = set(inspect.signature(function).parameters)
    told = {part.strip("* ") for names, _ in FORMULAS[key].inputs for part in names.split(",")}
    assert wanted <= told


def test_no_part_of_the_science_loads_slow_libraries_before_they_are_used():
    import subprocess
    import sys

    code = (
        "import sys, analysis; from analysis import wetting, film, optics, measures, statistics; "
        "print(sorted({'scipy', 'statsmodels', 'pandas', 'tmm', 'colour', 'uncertainties'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
