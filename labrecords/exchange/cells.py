"""Cells of exported tables: text that a spreadsheet would take for a formula is made harmless, and can be undone."""

# A quote is doubled as well, so that what comes back is always what went out.
LIVE = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠", "'")


def harmless(value):
    """The value of a cell. Numbers stay numbers: a minus in front of one is no formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(LIVE) else value


def as_written(cell: str) -> str:
    """What went out, from a cell that came back."""
    return cell.removeprefix("'")
