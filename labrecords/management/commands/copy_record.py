"""One record with its history, files and place in the chain, as a ZIP file of open formats."""

from pathlib import Path

from labrecords import history
from labrecords.exchange.record_copy import copy_of
from labrecords.management.acting import ActingCommand, refuse_unwritable


class Command(ActingCommand):
    help = "Writes a whole copy of one record: values, history from the chain, files. HOW-TO-CHECK.txt is inside."
    verb = "history.look"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("noun", help="kind of record as in the address of its history: coupon, test-run, batch …")
        parser.add_argument("name", help="its code, report number or sign-in name")
        parser.add_argument("out", type=Path, metavar="FILE.zip")

    def handle(self, *, noun, name, out, by, **_):
        by = self.person(by)
        row = history.found(by, noun, name)
        refuse_unwritable(out)
        out.write_bytes(copy_of(by, row))
        self.stdout.write(f"{out}: {row} with its history. HOW-TO-CHECK.txt inside says how to check it.")
