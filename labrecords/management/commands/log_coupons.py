"""Logs coupons cut from a substrate lot and prints their codes, one a line."""

from labrecords import entry, trail
from labrecords.actions import batches, coupons
from labrecords.actions.rows import find
from labrecords.management.acting import ActingCommand, reason
from labrecords.models import Batch, Project, SubstrateLot

_SIZES = {"length_mm": "length [mm]", "width_mm": "width [mm]", "exposed_area_mm2": "exposed area [mm²]"}


class Command(ActingCommand):
    help = "Logs coupons cut from a substrate lot; prints one code a line."
    verb = "coupons.log"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("--lot", required=True, metavar="CODE", help="substrate lot")
        parser.add_argument("--count", help="how many (default: one a mark, or one)")
        parser.add_argument("--marks", default="", metavar="A01,A02", help="what is stamped on them, in order")
        parser.add_argument("--length-mm")
        parser.add_argument("--width-mm")
        parser.add_argument("--area-mm2", dest="exposed_area_mm2", help="exposed area")
        parser.add_argument("--place", default="")
        parser.add_argument("--project", metavar="CODE")
        parser.add_argument("--batch", metavar="CODE", help="batch that the coupons join")
        parser.add_argument("--role", default="treated", help="in the batch: treated, control or reference")

    def handle(self, *, lot, count, marks, place, project, batch, role, by, why, **options):
        by = self.person(by)
        marks = [mark.strip() for mark in marks.split(",")] if marks else []
        fields = {name: entry.number(options[name], field=name, label=label, low=0) for name, label in _SIZES.items()}
        count = entry.whole(count, field="count", label="Number of coupons") if count else len(marks) or 1
        lot, batch = find(SubstrateLot, lot), find(Batch, batch, by=by) if batch else None
        fields |= {"place": place, "project": find(Project, project, by=by) if project else None}
        with trail.recorded(by.username, why or "logged"):
            made = coupons.log(by=by, lot=lot, count=count, marks=marks, **fields, **reason(why))
            for coupon in made if batch else ():
                batches.join(by=by, why=why or "logged into the batch", batch=batch, coupon=coupon, role=role)
        for coupon in made:
            self.stdout.write(coupon.code)
