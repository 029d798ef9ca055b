"""The test methods, one file each; a file is found by being here. METHODS maps key -> Method."""

from __future__ import annotations

import importlib
import pkgutil

from analysis.method import Method

METHODS: dict[str, Method] = {}


def register(method: Method) -> Method:
    """Make a method known. A key is never used twice."""
    if METHODS.get(method.key, method) is not method:
        raise ValueError(f"method key {method.key!r} is taken")
    METHODS[method.key] = method
    return method


for _module in sorted(item.name for item in pkgutil.iter_modules(__path__)):
    register(importlib.import_module(f"{__name__}.{_module}").METHOD)
