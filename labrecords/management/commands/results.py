"""Prints what runs, coupons and batches came out as."""

import json

from labrecords.actions import coupons
from labrecords.actions.rows import find
from labrecords.exchange import results
from labrecords.management.acting import ActingCommand
from labrecords.models import Batch, TestRun

_FORMATS = {
    "table": results.as_table,
    "json": lambda found: json.dumps(results.as_data(found), ensure_ascii=False, indent=1),
    "csv": results.as_csv,
}


class Command(ActingCommand):
    help = "Prints the numbers and checks of runs, coupons and batches."

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument(
            "--by", metavar="USERNAME", help="who looks (default: what is open to everybody of the lab)"
        )
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--batch", metavar="CODE")
        which.add_argument("--run", metavar="CODE")
        which.add_argument("--coupon", metavar="CODE")
        parser.add_argument("--format", choices=list(_FORMATS), default="table")

    def handle(self, *, batch, run, coupon, format, by, **options):
        by = self.looking(by, "explanations.look")
        if batch:
            found = results.of_batch(find(Batch, batch, by=by))
        elif run:
            found = results.of_run(find(TestRun, run, by=by, noun="run"))
        elif coupon:
            found = results.of_coupon(coupons.find(coupon, by=by))
        else:
            found = results.of_everything(by)
        self.stdout.write(_FORMATS[format](found).rstrip("\n"))
