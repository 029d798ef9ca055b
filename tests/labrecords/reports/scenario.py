"""A batch on which nearly everything that a report can say is said. Every name and number is invented."""

from datetime import date, datetime, timedelta

from django.utils import timezone

from labrecords import trail
from labrecords.actions import batches, criteria, liquids, processing, projects, runs
from tests import factories as make

HOSTILE = 'A <b>bold</b> name & <img src="/etc/hostname"/> </para>'


def rich_batch(by, reviewer, n=3, drops=6):
    """Treated coupons with a lubricant, a control; exclusions, corrections, losses, a dose, all sorts of deviations."""
    project = projects.start(
        by=by, code="WX-17", title="Gauges", customer="Station network North", customer_contact="The test desk"
    )
    steps = [
        {
            "kind": "boiling",
            "planned": {"temperature_c": {"value": 97, "tolerance": 2}, "duration_min": {"value": 20, "tolerance": 2}},
        },
        {"kind": "acid_etch", "title": HOSTILE, "planned": {"duration_s": {"value": 30, "tolerance": 5}}},
        {"kind": "infuse_drip", "planned": {"drain_min": {"value": 60, "tolerance": 10}}},
        {"kind": "dry", "planned": {"way": {"text": "nitrogen"}}},
    ]
    batch = make.make_batch(
        by,
        n,
        project=project,
        title=HOSTILE,
        sampling="three of three, by place in the rack",
        recipe_revision=make.make_recipe(by, steps),
        control=[make.make_coupon(by, mark="K")],
    )
    _process(by, batch)
    _readings(by, batch, reviewer, drops)
    return batch


def _process(by, batch):
    bath = liquids.log_bath_lot(
        by=by,
        code="BATH-7",
        title="Acid",
        composition=HOSTILE,
        prepared_on=date(2026, 1, 1),
        expires_on=date(2026, 4, 1),
        hazards=["nitric_acid"],
    )
    oil = liquids.create_lubricant(by=by, code="OIL-F", name="Invented oil", is_pfas=True, hazards=["fluorinated"])
    liquids.add_property(by=by, lubricant=oil, quantity="density", value=1900, source="invented", temperature_c=25)
    oil_lot = liquids.log_lubricant_lot(by=by, lubricant=oil, code="OIL-LOT-3", prepared_on=date(2026, 1, 2))
    coupons = [member.coupon for member in batch.members.filter(role="treated")]
    boil, etch, infuse, _dry = batch.recipe_revision.steps.all()
    start = timezone.make_aware(datetime(2026, 2, 26, 8, 0))
    details = {
        "by": by,
        "batch": batch,
        "coupons": coupons,
        "started_at": start,
        "finished_at": start + timedelta(minutes=30),
    }
    processing.record(
        step=boil,
        actual={"temperature_c": 93, "duration_min": 20},
        reasons={"temperature_c": "cold tap line"},
        **details,
    )
    processing.record(step=etch, bath_lots=[bath], **details)
    bath.expires_on = date(2026, 2, 1)  # found out after its use
    with trail.recorded("tests", "the label named the wrong day"):
        bath.save()
    masses = {coupon.code: (5000.0, 5018.5) for coupon in coupons}
    processing.record(step=infuse, actual={"drain_min": 60}, lubricant_lots=[oil_lot], masses=masses, **details)


def _readings(by, batch, reviewer, drops):
    lot = make.make_liquid_lot(by)
    shared = {"liquid_lot": lot, "instrument": make.make_instrument(by, due=date(2026, 2, 1), place="Room 7")}
    angles = make.make_method_version(by, "advancing_receding")
    tilts = make.make_method_version(by, "sliding_angle", drop_volume_ul=5)
    for index, member in enumerate(batch.members.select_related("coupon")):
        high = [(113.0 + 0.1 * drop, 111.0 + 0.05 * drop - 0.3 * index) for drop in range(drops)]
        run = make.make_run(
            by,
            coupon=member.coupon,
            method_version=angles,
            not_recorded="logger was off" if not index else "",
            **shared | ({"room_humidity_pct": None} if not index else {}),
        )
        runs.record(by=by, run=run, readings=make.pairs([(round(a, 2), round(r, 2)) for a, r in high]))
        runs.complete(by=by, run=run)
        typed = make.sliding([3.4 + 0.2 * drop for drop in range(drops - 2)] + [">"])
        typed.append(
            runs.Typed(quantity="sliding_angle", drop=drops, qualifier="lost", reason="rolled off the edge & gone")
        )
        tilt = make.make_run(by, coupon=member.coupon, method_version=tilts, **shared)
        runs.record(by=by, run=tilt, readings=typed)
        if not index:
            runs.record(
                by=by,
                why="misread the scale",
                run=tilt,
                readings=[runs.Typed(quantity="sliding_angle", drop=1, value="3.9")],
            )
            reading = tilt.readings.current().get(drop=2)
            runs.exclude(by=by, why="dust under the drop", reading=reading)
        runs.complete(by=by, run=tilt)
        if member.role == "treated":
            late = make.make_run(
                by,
                coupon=member.coupon,
                method_version=tilts,
                dose=20,
                dose_kind="cycles",
                exposure="freeze and thaw",
                **shared,
            )
            runs.record(by=by, run=late, readings=make.sliding([4.5 + index + 0.1 * drop for drop in range(drops)]))
            runs.review(by=reviewer, run=runs.complete(by=by, run=late))
    spare = make.make_coupon(by, lot=batch.lot, mark="S")
    batches.join(by=by, why="spare", batch=batch, coupon=spare, role="treated")
    processing.note_deviation(by=by, batch=batch, what="Rack was turned", reason="door jammed", impact="none seen")


def specification(by):
    row = {"kind": "mean_interval", "quantity": "sliding_angle", "parameters": {"statistic": "median"}}
    return criteria.create(
        by=by,
        code="P1",
        title=HOSTILE,
        fixed_on=date(2026, 6, 1),
        when_inconclusive="six further coupons, once",
        criteria=[
            {
                "label": "C1",
                "kind": "mean_interval",
                "quantity": "hysteresis",
                "limit": 3.5,
                "wording": "sheds as agreed in clause 4",
                "parameters": {"statistic": "mean"},
            },
            row | {"label": "C2", "limit": 8},
            row | {"label": "C3", "limit": 9, "dose": 20, "dose_kind": "cycles"},
            {"label": "C4", "kind": "count_not_moved", "quantity": "sliding_angle", "limit": 5},
            {"label": "C5", "kind": "worst_coupon", "quantity": "receding_angle", "side": "at_least", "limit": 103},
        ],
    )


def rich_evidence():
    """The evidence of the batch above, as it stood at its issue."""
    by, reviewer = (
        make.make_person("quality", full_name="Q. Uality"),
        make.make_person("reviewer", full_name="R. Eviewer"),
    )
    batch = rich_batch(by, reviewer)
    issued = make.issue_report(batch, specification(by), reviewer=reviewer, approver=by)
    return issued.evidence
