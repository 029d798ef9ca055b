"""How long the reduction of many runs takes, against plain numpy on the same arrays.

Run as `python -m tests.benchmarks.reduction`. Measured in one process and one thread of ours, on invented
readings: 500 000 runs of 20 drops, of which about a fifth had not moved at the limit of the stage. Plain numpy
is `mean(axis=1)` and `std(axis=1, ddof=1)` of runs × drops, or `add.reduceat` over the same flat array with
offsets. Each measurement is repeated, in turns with the others, and the median counts.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import time

import numpy as np

from analysis.statistics.many_runs import REASONS, censored_normal_fits, hysteresis_statistics

HYSTERESIS_TARGET, CENSORED_TARGET = 3, 30  # times plain numpy


def angles(rng: np.random.Generator, runs: int, drops: int) -> tuple[np.ndarray, np.ndarray]:
    """Advancing and receding angles [deg]: surfaces differ, coupons scatter."""
    advancing = rng.uniform(95, 165, (runs, 1)) + rng.normal(0, 2, (runs, drops))
    receding = advancing - rng.uniform(2, 30, (runs, 1)) + rng.normal(0, 1.5, (runs, drops))
    return advancing, receding


def sliding(rng: np.random.Generator, runs: int, drops: int) -> tuple[np.ndarray, np.ndarray]:
    """Sliding angles [deg] with the limit of one of two stages in the place of a drop that did not move."""
    angle = rng.uniform(15, 90, (runs, 1)) + rng.normal(0, 1, (runs, drops)) * rng.uniform(3, 20, (runs, 1))
    limit = rng.choice([60.0, 90.0], (runs, 1), p=[0.4, 0.6])
    return np.clip(angle, 1.0, limit), angle > limit


def rectangular(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return values.mean(axis=1), values.std(axis=1, ddof=1)


def flat(values: np.ndarray, offsets: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    sizes = np.diff(offsets)
    mean = np.add.reduceat(values, offsets[:-1]) / sizes
    deviations = values - np.repeat(mean, sizes)
    return mean, np.sqrt(np.add.reduceat(deviations * deviations, offsets[:-1]) / (sizes - 1))


def medians(jobs: dict, repeats: int) -> dict[str, float]:
    """Median seconds of each job; the jobs take turns, so that a slow moment of the machine meets them all."""
    seconds = {name: [] for name in jobs}
    for turn in range(repeats + 1):
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            if turn:  # the first turn warms up
                seconds[name].append(time.perf_counter() - start)
    return {name: statistics.median(values) for name, values in seconds.items()}


def report(name: str, ours: float, plain: float, target: float, against: str) -> None:
    ratio = ours / plain
    verdict = "kept" if ratio <= target else "NOT KEPT"
    print(f"{name:44} {ours:7.3f} s  {ratio:6.2f} × numpy ({against}, {plain:.3f} s); target {target}: {verdict}")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--runs", type=int, default=500_000)
    options.add_argument("--drops", type=int, default=20)
    options.add_argument("--repeats", type=int, default=5)
    given = options.parse_args()
    rng = np.random.default_rng(20261125)
    advancing, receding = angles(rng, given.runs, given.drops)
    difference = advancing - receding
    tilt, stayed = sliding(rng, given.runs, given.drops)
    offsets = np.arange(0, tilt.size + 1, given.drops)
    flats = [array.ravel() for array in (advancing, receding, difference, tilt, stayed)]
    print(f"{given.runs} runs × {given.drops} readings, {stayed.mean():.0%} not moved, median of {given.repeats}")
    found = medians(
        {
            "numpy, difference": lambda: rectangular(difference),
            "numpy, both angles": lambda: (rectangular(advancing), rectangular(receding)),
            "numpy, tilt": lambda: rectangular(tilt),
            "numpy, difference flat": lambda: flat(flats[2], offsets),
            "numpy, tilt flat": lambda: flat(flats[3], offsets),
            "hysteresis": lambda: hysteresis_statistics(advancing, receding),
            "hysteresis flat": lambda: hysteresis_statistics(flats[0], flats[1], offsets),
            "profile": lambda: censored_normal_fits(tilt, stayed),
            "profile flat": lambda: censored_normal_fits(flats[3], flats[4], offsets=offsets),
            "wald": lambda: censored_normal_fits(tilt, stayed, interval="wald"),
        },
        given.repeats,
    )
    for against in ("difference", "both angles"):
        plain = found[f"numpy, {against}"]
        report("hysteresis with t intervals, runs × drops", found["hysteresis"], plain, HYSTERESIS_TARGET, against)
    plain = found["numpy, difference flat"]
    report("hysteresis with t intervals, flat", found["hysteresis flat"], plain, HYSTERESIS_TARGET, "difference")
    plain = found["numpy, tilt"]
    report("censored fits, profile intervals", found["profile"], plain, CENSORED_TARGET, "tilt")
    report("censored fits, Wald intervals", found["wald"], plain, CENSORED_TARGET, "tilt")
    plain = found["numpy, tilt flat"]
    report("censored fits, profile intervals, flat", found["profile flat"], plain, CENSORED_TARGET, "tilt")
    codes = np.bincount(censored_normal_fits(tilt, stayed).code, minlength=len(REASONS))
    for count, reason in zip(codes, REASONS, strict=True):
        if count:
            print(f"{count:8} runs: {reason or 'fitted'}")
    print(f"largest memory of the process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20:.1f} GiB")


if __name__ == "__main__":
    main()
