"""Published tables for tests: CSV files whose first lines say source, page, units and how they were taken."""

from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).parent.parent / "reference"


def table(name):
    """The rows of one table as a frame."""
    return pd.read_csv(FOLDER / f"{name}.csv", comment="#")


def groups(name):
    """A two-column table as group -> values."""
    frame = table(name)
    label, value = frame.columns
    return {str(key): part[value].tolist() for key, part in frame.groupby(label)}
