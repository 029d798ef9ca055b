"""Name, address and site code of the lab, as they stand on reports and in coupon codes."""

from labrecords.actions import laboratory
from labrecords.management.acting import ActingCommand, reason


class Command(ActingCommand):
    help = "Sets the lab's name, address and site code."
    verb = "laboratory.set_up"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("--name", required=True)
        parser.add_argument("--address", required=True)
        parser.add_argument("--site", required=True, help="short code that starts every coupon code")
        parser.add_argument("--coupon-scheme", help="made of {site}, {year} and {number}")

    def handle(self, *, name, address, site, coupon_scheme, by, why, **options):
        lab = laboratory.set_up(
            by=self.person(by), name=name, address=address, site=site, coupon_scheme=coupon_scheme, **reason(why)
        )
        self.stdout.write(f"{lab.name}, site {lab.site}, coupon codes {lab.coupon_scheme}")
