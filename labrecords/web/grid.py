"""The entry grid of a run: a row a drop, a cell a reading; what was typed is kept until it is stored."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis import LOST, MEASURED, MOVED_ON_PLACING, NOT_MOVED, QUALIFIERS, QUANTITIES
from labrecords import entry
from labrecords.actions.runs import Typed

KEYS = {NOT_MOVED: "n", MOVED_ON_PLACING: "p", LOST: "x"}  # one key a mark; numbers never hold these letters
DROPS = 5  # rows of an empty grid when nobody said how many
MOST_ROWS = 400


@dataclass(frozen=True)
class Column:
    """One reading quantity of the method, with what its cells are checked against while they are typed."""

    kind: object
    limit: float | None  # the stage limit, where this quantity has one

    @property
    def quantity(self):
        return QUANTITIES[self.kind.quantity]

    @property
    def offered(self):
        """Qualifiers that the method offers for this quantity: key -> words."""
        keys = [MEASURED]
        keys += [NOT_MOVED] if self.kind.can_be_not_moved else []
        keys += [MOVED_ON_PLACING] if self.kind.can_move_on_placing else []
        words = QUALIFIERS | {NOT_MOVED: f"{self.quantity.beyond} up to the {self.quantity.limit}"}
        return {key: words[key] for key in [*keys, LOST]}


@dataclass
class Cell:
    column: Column
    text: str = ""
    qualifier: str = MEASURED
    reason: str = ""
    was: str = ""  # what the page showed when it was opened
    theirs: str = ""  # what somebody else saved meanwhile
    excluded_because: str = ""

    @property
    def said(self):
        return f"{self.qualifier}|{self.text}|{self.reason}"

    @property
    def words(self):
        if self.qualifier == MEASURED:
            return self.text or "nothing"
        return " · ".join(part for part in (QUALIFIERS.get(self.qualifier, self.qualifier), self.reason) if part)


@dataclass
class Row:
    index: int
    position: str = "1"
    drop: object = 1
    direction: str = ""
    cells: list[Cell] = field(default_factory=list)
    is_stored: bool = False

    @property
    def place(self):
        return (str(self.position), str(self.drop), self.direction)


class Grid:
    def __init__(self, run):
        settings = run.method_version.settings
        limits = {item.limits_quantity: settings.get(item.key) for item in run.method.settings if item.limits_quantity}
        self.columns = [Column(kind, limits.get(kind.quantity)) for kind in run.method.readings]
        self.per_drop = run.method.per_drop
        self.pair = run.method.pair
        self.rows: list[Row] = []

    @property
    def marks(self):
        """The big buttons: (qualifier, key, words), in the order of the declaration."""
        offered = {key: words for column in self.columns for key, words in column.offered.items()}
        return [(key, KEYS[key], words.capitalize()) for key, words in offered.items() if key in KEYS]

    @property
    def pair_column(self):
        return QUANTITIES["hysteresis"] if self.pair else None

    @property
    def has_stored(self):
        return any(row.is_stored for row in self.rows)

    @property
    def has_directions(self):
        return any(row.direction for row in self.rows)

    @property
    def summed(self):
        """What the running statistics are given for: each quantity read, and the hysteresis of pairs."""
        rows = [{"quantity": column.quantity, "can_stay": column.kind.can_be_not_moved} for column in self.columns]
        return rows + ([{"quantity": self.pair_column, "can_stay": False}] if self.pair else [])

    def add(self, place, readings=None):
        """A row at (position, drop, direction), holding what is stored there."""
        readings = readings or {}
        cells = [_cell(column, readings.get(column.kind.quantity)) for column in self.columns]
        self.rows.append(Row(len(self.rows), *place, cells=cells, is_stored=bool(readings)))

    def add_empty(self, count, drops=1, direction=""):
        """Further positions after the last one, each with the same number of drops."""
        used = [int(row.position) for row in self.rows if str(row.position).isdecimal()]
        for position in range(max(used, default=0) + 1, max(used, default=0) + 1 + count):
            for drop in range(1, drops + 1):
                if len(self.rows) < MOST_ROWS:
                    self.add((str(position), drop, direction))

    def typed(self):
        """What was changed since the page was opened, for the action."""
        return [
            Typed(quantity=cell.column.kind.quantity, position=row.position, direction=row.direction, value=cell.text,
                  drop=entry.whole(row.drop, field="drop", label="Drop", low=1, high=10_000) or 1,
                  qualifier=cell.qualifier, reason=cell.reason)
            for row in self.rows for cell in row.cells if cell.said != cell.was
        ]  # fmt: skip

    def lay_beside(self, readings, who):
        """Somebody saved first: cells nobody touched here take the stored value, touched ones show it beside."""
        stored = by_place(readings)
        for row in self.rows:
            here = stored.pop(row.place, {})
            row.is_stored = row.is_stored or bool(here)
            for cell in row.cells:
                now = _cell(cell.column, here.get(cell.column.kind.quantity))
                if now.said not in (cell.was, cell.said) and cell.said != cell.was:
                    cell.theirs = f"{who} saved: {now.words}"
                elif cell.said == cell.was:
                    cell.text, cell.qualifier, cell.reason = now.text, now.qualifier, now.reason
                cell.was = now.said
        for (position, drop, direction), here in stored.items():
            self.add((position, int(drop), direction), here)


def of_run(run, readings, size=None):
    """The grid of what is stored, and empty rows for what is still to be read."""
    grid = Grid(run)
    stored = by_place(readings)
    for (position, drop, direction), here in sorted(stored.items(), key=lambda item: natural(item[0])):
        grid.add((position, int(drop), direction), here)
    if not grid.per_drop:
        return grid if stored else _with_one_row(grid)
    positions, drops = size or ((0, 1) if stored else (DROPS, 1))
    taken = {(position, drop) for position, drop, _ in stored}
    for position in range(1, positions + 1):
        for drop in range(1, drops + 1):
            if (str(position), str(drop)) not in taken:
                grid.add((str(position), drop, ""))
    return grid


def of_post(run, data):
    """The grid exactly as it was sent."""
    grid = Grid(run)
    for index in data.getlist("row")[:MOST_ROWS]:
        position, drop, direction = (_text(data, f"{name}-{index}") for name in ("position", "drop", "direction"))
        row = Row(len(grid.rows), position[:20] or "1", drop or "1", direction[:20])
        row.is_stored = data.get(f"stored-{index}") == "1"
        row.cells = [_sent(column, index, data) for column in grid.columns]
        grid.rows.append(row)
    return grid


def by_place(readings):
    """(position, drop, direction) -> {quantity: reading}, drops as text because they are typed."""
    places = {}
    for reading in readings:
        place = (reading.position, str(reading.drop), reading.direction)
        places.setdefault(place, {})[reading.quantity] = reading
    return places


def natural(place):
    """Position 10 after position 9; positions that are words after those that are numbers."""
    position, drop, direction = place
    number = int(position) if position.isdecimal() else 10**9
    return (number, position, int(drop), direction)


def blank_row(run):
    """An empty row with words in place of its numbers, for rows that the page adds itself."""
    grid = Grid(run)
    grid.add(("POSITION", "DROP", ""))
    grid.rows[0].index = "BLANK"
    return grid.rows[0]


def _with_one_row(grid):
    grid.add(("1", 1, ""))
    return grid


def _cell(column, reading):
    cell = Cell(column)
    if reading is not None:
        cell.qualifier, cell.reason = reading.qualifier, reading.reason
        cell.text = (reading.typed or f"{reading.value!r}".removesuffix(".0")) if reading.qualifier == MEASURED else ""
        cell.excluded_because = reading.excluded_because
    cell.was = cell.said
    return cell


def _sent(column, index, data):
    name = f"{index}-{column.kind.quantity}"
    return Cell(
        column,
        text=_text(data, f"value-{name}"),
        qualifier=_text(data, f"qualifier-{name}") or MEASURED,
        reason=_text(data, f"reason-{name}")[:200],
        was=data.get(f"was-{name}") or Cell(column).said,
    )


def _text(data, name):
    return data.get(name, "").replace("\0", "").strip()
