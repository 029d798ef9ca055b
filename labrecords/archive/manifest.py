"""What an archive says of itself; without it an archive is a dump of an earlier release, which proves nothing."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import datetime

from labrecords.errors import ArchiveRefused

FORMAT = 1  # raised when an archive can no longer be read by the program before


@dataclass(frozen=True)
class Table:
    rows: int
    sha256: str


@dataclass(frozen=True)
class File:
    name: str
    bytes: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    program: str
    analysis: str
    postgresql: str
    database: str
    taken_at: datetime  # by the database's clock, just before the snapshot
    migrations: tuple[str, ...]
    chain_head: dict | None
    tables: dict[str, Table]
    files: tuple[File, ...]
    format: int = FORMAT

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())

    def to_bytes(self) -> bytes:
        said = dataclasses.asdict(self) | {"taken_at": self.taken_at.isoformat()}
        return (json.dumps(said, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode()


def parse(data: bytes) -> Manifest:
    try:
        said = json.loads(data)
        number = said["format"]
        if number != FORMAT:
            raise ArchiveRefused(why=f"The archive has format {number}; this program reads format {FORMAT}.")
        return Manifest(
            **said
            | {
                "taken_at": datetime.fromisoformat(said["taken_at"]),
                "migrations": tuple(said["migrations"]),
                "tables": {name: Table(**table) for name, table in said["tables"].items()},
                "files": tuple(File(**file) for file in said["files"]),
            }
        )
    except (ValueError, TypeError, KeyError, AttributeError):
        raise ArchiveRefused(why="The archive is damaged: its manifest cannot be read.") from None
