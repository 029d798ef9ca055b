"""A tidy text file, read strictly: UTF-8, one header, every cell as text with the line it stands in."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field

from labrecords.errors import FileRefused, Refusal

MOST_BYTES = 20 * 2**20
MOST_REFUSALS = 200


@dataclass(frozen=True)
class Row:
    line: int
    cells: dict[str, str]

    def text(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass
class Refusals:
    """Everything that is wrong with a file, so that it can be put right in one go."""

    lines: list[dict] = field(default_factory=list)

    def add(self, line: int, column: str, value: object, rule: str):
        found = {"line": line, "column": column, "value": str(value), "rule": rule}
        if found not in self.lines:
            self.lines.append(found)
        if len(self.lines) >= MOST_REFUSALS:
            self.end()

    def take(self, line: int, column: str, value: object, refusal: Refusal):
        """A refusal of an action or of strict entry, in its own words."""
        self.add(line, column, value, refusal.details.get("rule") or str(refusal))

    def end(self):
        if self.lines:
            raise FileRefused(lines=sorted(self.lines, key=lambda found: found["line"]))


def read(data: bytes, *, required: tuple, optional: tuple, refusals: Refusals) -> list[Row]:
    """The rows of a file. What spoils the whole file is raised, what is wrong with a line is added."""
    text = _decoded(data)
    separator = _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    header, rows, start = None, [], 1
    while (cells := _next(reader, start, refusals)) is not None:
        line, start = start, reader.line_num + 1
        if not any(cell.strip() for cell in cells) and len(cells) <= 1:
            continue
        if header is None:
            header = check_header([cell.strip() for cell in cells], line, required=required, optional=optional)
        elif len(cells) != len(header):
            refusals.add(line, "", separator.join(cells), _miscounted(cells, header, separator))
        else:
            rows.append(_row(line, header, cells, refusals))
    if not rows and not refusals.lines:
        refusals.add(start, "", "", "the file has a header and no readings" if header else "the file is empty")
        refusals.end()
    _refuse_open_end(text, header, rows, refusals)
    return rows


def check_header(names: list[str], line: int, *, required: tuple, optional: tuple) -> list[str]:
    """The header as it is, when every required column is there once and no column is unknown."""
    refusals = Refusals()
    for name in dict.fromkeys(names):
        if name not in (*required, *optional):
            refusals.add(line, name, name, f"is no known column; known are {', '.join((*required, *optional))}")
        elif names.count(name) > 1:
            refusals.add(line, name, name, "stands twice in the header")
    for name in required:
        if name not in names:
            refusals.add(line, name, "", "is missing in the header")
    refusals.end()
    return names


def _decoded(data):
    if len(data) > MOST_BYTES:
        raise FileRefused(lines=[_whole(1, f"the file is larger than {MOST_BYTES // 2**20} MB: split it")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        rule = "the file is not UTF-8 text: save it as UTF-8; the encoding is not guessed"
        raise FileRefused(lines=[_whole(line, rule, data[problem.start : problem.start + 1].hex())]) from None
    odd = next((sign for sign in text if ord(sign) < 32 and sign not in "\t\r\n"), None)
    if odd is not None:
        line = text.count("\n", 0, text.index(odd)) + 1
        raise FileRefused(lines=[_whole(line, "is a control character: this is no text file", f"0x{ord(odd):02x}")])
    return text


def _whole(line, rule, value=""):
    return {"line": line, "column": "", "value": value, "rule": rule}


def _separator(text):
    header = next((line for line in text.splitlines() if line.strip()), "")
    found = [sign for sign in ",;" if sign in header]
    if len(found) != 1 and header:
        rule = "the header is not separated by either commas or semicolons"
        raise FileRefused(lines=[_whole(1, rule, header[:80])])
    return found[0] if found else ","


def _next(reader, line, refusals):
    try:
        return next(reader, None)
    except csv.Error as problem:
        refusals.add(line, "", "", f"cannot be split into columns ({problem}); the file may be cut off")
        return None


def _miscounted(cells, header, separator):
    rule = f"has {len(cells)} fields where the header has {len(header)}"
    if len(cells) < len(header):
        return f"{rule}; the line may be cut off"
    return rule + ("; a decimal comma needs quotes or the separator “;”" if separator == "," else "")


def _row(line, header, cells, refusals):
    row = Row(line, {name: cell.strip() for name, cell in zip(header, cells, strict=True)})
    for name, cell in row.cells.items():
        if not cell.isprintable():
            refusals.add(line, name, cell, "holds a line break or another sign that cannot be printed")
    return row


def _refuse_open_end(text, header, rows, refusals):
    """A last line without line break may be cut off; only a qualifier at its end cannot be mistaken."""
    if not rows or text[-1] in "\r\n":
        return
    last = rows[-1]
    # An empty qualifier means measured: “30,” may be what is left of “30,not_moved”.
    if header[-1] != "qualifier" or not last.text("qualifier"):
        rule = "is at the end of a line without line break, so it may be cut off; end the line if it is whole"
        refusals.add(last.line, header[-1], last.text(header[-1]), rule)
