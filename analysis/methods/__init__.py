"""The test methods and the exposures between runs, one file each; a file is found by being here.

METHODS and EXPOSURES map key -> declaration.
"""

from __future__ import annotations

import importlib
import pkgutil

from analysis.method import Exposure, Method

METHODS: dict[str, Method] = {}
EXPOSURES: dict[str, Exposure] = {}


def register(declared: Method | Exposure) -> Method | Exposure:
    """Make a method or an exposure known. A key is never used twice."""
    registry = METHODS if isinstance(declared, Method) else EXPOSURES
    if registry.get(declared.key, declared) is not declared:
        raise ValueError(f"the key {declared.key!r} is taken")
    registry[declared.key] = declared
    return declared


for _name in sorted(item.name for item in pkgutil.iter_modules(__path__)):
    _file = importlib.import_module(f"{__name__}.{_name}")
    register(_file.METHOD if hasattr(_file, "METHOD") else _file.EXPOSURE)
