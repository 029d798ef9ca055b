"""What a check rests on, declared in front of it: its formulas, the facts of the run that it needs, what turns it."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable

from analysis.method import Derived
from analysis.records import Check, Run


def rests_on(*formulas: str, needs: tuple[str, ...] = (), turns: str) -> Callable:
    """Declare the grounds of the check below.

    Parameters
    ----------
    *formulas : str
        Keys of `analysis.formula.FORMULAS`.
    needs : tuple of str
        Facts of the run by name, as in `analysis.explanation`.
    turns : str
        One sentence: what would change the outcome.

    Returns
    -------
    callable
        A decorator; each Check that the function gives carries the grounds.

    Source: `common_practice`.

    >>> @rests_on(turns="It never turns.")
    ... def nothing(run, baseline=None):
    ...     return Check("nothing", "Nothing", "holds", "So it is.")
    >>> nothing(None).turns
    'It never turns.'
    """

    def declare(check: Callable) -> Callable:
        @functools.wraps(check)
        def grounded(run: Run, baseline: Run | None = None, **given) -> Check | None:
            found = check(run, baseline, **given)
            return found and dataclasses.replace(found, formulas=formulas, needs=needs, turns=turns)

        return grounded

    return declare


def over(of: Derived | str, *checks: Callable) -> tuple[Callable, ...]:
    """Checks of a series of readings, told which of the quantities of the method to look at.

    Parameters
    ----------
    of : Derived or str
        What follows from the readings, one value a drop, or the key of what was read.
    *checks : callable
        Checks that take the quantity as `of`: drift_over_drops, outliers, trend_of_coupon.

    Returns
    -------
    tuple of callable
        The same checks, each for that quantity alone.

    Source: `common_practice`.

    >>> from analysis.checks import outliers
    >>> over("lightness", outliers)[0].__name__
    'outliers'
    """
    return tuple(functools.wraps(check)(functools.partial(check, of=of)) for check in checks)
