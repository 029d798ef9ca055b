"""What a test report must say of those that come from the records, by the items of ISO/IEC 17025:2017, 7.8.2.1.

Title, page numbers, dates, units, the statement on the items tested and who authorised it are printed always.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Item:
    """One item: its letter, its name, whether the evidence has it, and where it is entered."""

    letter: str
    name: str
    is_there: Callable[[dict], bool]
    where: str


ITEMS = (
    Item("b", "name and address of the laboratory",
         lambda e: bool(e["laboratory"] and e["laboratory"]["name"].strip() and e["laboratory"]["address"].strip()),
         "page Lab"),
    Item("e", "contact of the customer",
         lambda e: not e["customer"]["name"].strip() or bool(e["customer"]["contact"].strip()), "the project"),
    Item("g", "description of the items tested",
         lambda e: bool(e["lots"]) and all(lot["material"].strip() for lot in e["lots"]), "the substrate lot"),
    Item("i", "dates of the tests",
         lambda e: bool(e["runs"]) and all(run["observed_at"] for run in e["runs"]), "the runs"),
    # A customer must be able to tell what the tested coupons stand for; the lab's own work may do without.
    Item("k", "sampling plan",
         lambda e: not e["customer"]["name"].strip() or bool(e["batch"]["sampling"].strip()), "the batch"),
)  # fmt: skip


def missing(evidence) -> list[Item]:
    """Items that are neither on record nor excused by a deviation of the batch that names them."""
    excuses = " ".join(row["what"].lower() for row in evidence["deviations"] if row["reason"] != "told by the records")
    return [item for item in ITEMS if not item.is_there(evidence) and item.name not in excuses]
