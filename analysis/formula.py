"""A formula in standard notation, kept beside the function that computes it: what a result is explained with.

The decorator `formula` adds to a science function what its signature cannot say. Everything else that an
explanation shows (what each input means, its unit and range) is read from the function's own docstring, so
that no formula and no text stands twice.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula: its statement, where it comes from, what computes it, and where it holds."""

    key: str  # module below `analysis` and name of the function: "wetting.angles.wenzel_angle"
    title: str  # first sentence of the docstring
    statement: str  # in standard notation: "cos θ* = r·cos θY"
    source: str  # key of analysis.sources; several are separated by spaces
    holds_when: str  # validity, one sentence or clause
    library: str  # what computes it when it is not written by hand: "scipy.stats.nct"
    inputs: tuple[tuple[str, str], ...]  # (parameter, what the docstring says of it, with unit and range)
    gives: str  # the Returns section


FORMULAS: dict[str, Formula] = {}


def formula(statement: str, *, source: str, holds_when: str = "", library: str = "") -> Callable:
    """Declare the formula that the function below computes.

    Parameters
    ----------
    statement : str
        The formula in standard notation with Unicode signs, as a textbook prints it.
    source : str
        Key of `analysis.sources`; several keys separated by spaces.
    holds_when : str
        Where the formula is valid: "smooth, rigid, inert solid at equilibrium".
    library : str
        Package and function that does the computing, where it is not our own arithmetic.

    Returns
    -------
    callable
        A decorator; the function comes back unchanged, with the attribute `formula`.

    Raises
    ------
    ValueError
        For a function without a docstring, or a key that is taken.

    Source: `common_practice`.

    >>> FORMULAS["wetting.hysteresis.hysteresis"].statement
    'Δθ = θa − θr'
    """

    def declare(function: Callable) -> Callable:
        text = inspect.getdoc(function)
        if not text:
            raise ValueError(f"{function.__name__} has no docstring to explain it")
        key = f"{function.__module__.removeprefix('analysis.')}.{function.__name__}"
        if key in FORMULAS and FORMULAS[key].statement != statement:
            raise ValueError(f"formula {key!r} is taken")
        title = " ".join(text.split("\n\n")[0].split()).replace("`", "")
        found = Formula(key, title, statement, source, holds_when, library, _inputs(text), _section(text, "Returns"))
        FORMULAS[key] = function.formula = found
        return function

    return declare


def _section(text: str, name: str) -> str:
    """One numpy section of a docstring as a single line, without the type line of a Returns section."""
    found = re.search(rf"^{name}\n-+\n(.*?)(?=\n\n\w[^\n]*(?:\n-+\n|:)|\n\n>>>|\Z)", text, re.M | re.S)
    if not found:
        return ""
    lines = found.group(1).splitlines()
    return " ".join(" ".join(line for line in lines if line.startswith(" ")).split()).replace("`", "")


def _inputs(text: str) -> tuple[tuple[str, str], ...]:
    found = re.search(r"^Parameters\n-+\n(.*?)(?=\n\n\w|\n\n>>>|\Z)", text, re.M | re.S)
    if not found:
        return ()
    entries = re.findall(r"^(\w[^:\n]*?)(?: ?:[^\n]*)?\n((?: +[^\n]*\n?|\n)+)", found.group(1) + "\n", re.M)
    return tuple((names.strip(), " ".join(said.split()).replace("`", "")) for names, said in entries)
