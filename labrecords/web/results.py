"""Statistics, checks and outcomes of the analysis as the rows that pages show."""

from analysis import (
    CANNOT_TELL,
    DOES_NOT_HOLD,
    FAIL,
    HOLDS,
    INCONCLUSIVE,
    PASS,
    QUANTITIES,
    SOURCES,
    citation,
    quantity_of,
)

# Shown with the word itself, never by colour alone.
TONES = {
    HOLDS: "good",
    DOES_NOT_HOLD: "bad",
    CANNOT_TELL: "warn",
    PASS: "pass",
    FAIL: "fail",
    INCONCLUSIVE: "inconclusive",
}
WORDS = {PASS: "pass", FAIL: "fail", INCONCLUSIVE: "inconclusive: the tests cannot tell"}


def amount(value, decimals=1, unit="", limit="stage limit"):
    """A number with its unit; what cannot be given is a dash, a median beyond the stage limit says so."""
    if value is None:
        return "–"
    if isinstance(value, str) or value in (float("inf"), float("-inf")):
        return f"beyond the {limit}"
    return f"{value:.{decimals}f}{unit if unit in ('', '°') else f' {unit}'}".replace("-", "−")


def interval(row):
    """“1.59 to 2.34° (95 %)”, or nothing."""
    if row["low"] is None and row["high"] is None:
        return ""
    low, high = amount(row["low"], row["decimals"]), amount(row["high"], row["decimals"], row["unit"])
    share = f" ({100 * row['confidence']:g}\u00a0%)" if row["confidence"] else ""
    return f"{low} to {high}{share}"


def sourced(key):
    return citation(key) if key in SOURCES else key  # some are citations already


def statistic(row):
    """One statistic (as data) with its texts."""
    return row | {
        "text": amount(row["value"], row["decimals"], row["unit"], quantity_of(row["key"]).limit),
        "interval": interval(row),
        "citation": sourced(row["source"]),
    }


def check(row, run=""):
    """One check (as data) with its tone, its numbers as text and its source in full."""
    numbers = [(label, _told(value)) for label, value in row["numbers"].items()]
    return row | {
        "tone": TONES[row["outcome"]],
        "rows": numbers,
        "citation": sourced(row["source"]),
        "run": run,
    }


def _told(value):
    """A number of a check as text; what is not known is a dash, what lies beyond a limit says so."""
    if value is None:
        return "–"
    if value in ("inf", "-inf"):
        return "beyond the limit"
    return f"{value:.4g}".replace("-", "−") if isinstance(value, float) else value


def outcome(row):
    """One criterion's outcome (as data) with its words."""
    return row | {
        "tone": TONES[row["verdict"]],
        "words": WORDS[row["verdict"]],
        "text": amount(row["value"], row["decimals"], row["unit"], QUANTITIES[row["quantity"]].limit),
        "interval": interval(row),
    }
