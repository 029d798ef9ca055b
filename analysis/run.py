"""What one stored run means: its statistics, its checks, its drop pairs."""

from __future__ import annotations

from analysis.methods import METHODS
from analysis.problems import reading_problems
from analysis.records import LOST, Run, RunResult
from analysis.reduction import reduce_readings

__all__ = ["analyse_run", "reading_problems"]


def analyse_run(run: Run, baseline: Run | None = None) -> RunResult:
    """Statistics and stability checks of one run.

    Parameters
    ----------
    run : Run
        One coupon, one method, one liquid, one drop volume, one dose; readings as stored. For a sliding
        angle, the run with both contact angles of the same coupon as `companion`.
    baseline : Run, optional
        The same coupon's own run at dose 0, for the trend.

    Returns
    -------
    RunResult
        Excluded and lost readings are counted and left out of every number; drops that did not move stay in
        as what they are. A run without readings has no statistics.

    Raises
    ------
    KeyError
        For a method that does not exist.

    Source: of each statistic and check, with it.

    >>> from analysis.records import Reading
    >>> angles = [3.5, 5.7, 4.0]
    >>> readings = tuple(Reading("sliding_angle", angle, drop=drop) for drop, angle in enumerate(angles, 1))
    >>> analyse_run(Run("R1", "C1", "sliding_angle", readings)).statistic("sliding_angle_median").value
    4.0
    """
    method = METHODS[run.method]
    statistics, pairs = reduce_readings(run, method)
    checks = (check(run, baseline) for check in method.checks)
    return RunResult(
        run=run.code,
        coupon=run.coupon,
        statistics=tuple(statistics),
        checks=tuple(check for check in checks if check is not None),
        pairs=tuple(pairs),
        n_readings=len(run.readings),
        n_excluded=sum(reading.excluded for reading in run.readings),
        n_lost=sum(reading.qualifier == LOST for reading in run.readings),
    )
