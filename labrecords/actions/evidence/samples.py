"""Who tested what for whom: laboratory, customer, batch, coupons and where they come from."""

from django.utils import timezone

from analysis import ROLES, TREATED
from labrecords.actions.evidence.stored import day, moment, number
from labrecords.models import Laboratory
from labrecords.models.coupon import STATES


def facts(stored) -> dict:
    batch = stored.batch
    lab = Laboratory.objects.first()
    return {
        "time_zone": timezone.get_current_timezone_name(),
        "laboratory": {"name": lab.name, "address": lab.address} if lab else None,
        "customer": _customer(batch),
        "batch": {
            "code": batch.code,
            "title": batch.title,
            "treatment": batch.treatment,
            "sampling": batch.sampling,
            "remark": batch.remark,
            "formed_on": moment(batch.created_at),
        },
        "coupons": [_coupon(stored, member) for member in stored.members],
        "lots": _substrate_lots(stored),
        "counts": _counts(stored),
    }


def _customer(batch):
    project = batch.project
    return {
        "project": str(project) if project else "",
        "name": project.customer if project else "",
        "contact": project.customer_contact if project else "",
        "requester": batch.created_by.full_name,
    }


def _coupon(stored, member):
    coupon = member.coupon
    size = " × ".join(f"{side:g}" for side in (coupon.length_mm, coupon.width_mm) if side)
    cut = [
        coupon.position,
        coupon.orientation,
        f"marked face: {coupon.marked_face}" if coupon.marked_face else "",
    ]
    runs = [run for run in stored.runs if run.coupon_id == coupon.pk]
    return {
        "code": coupon.code,
        "mark": coupon.mark,
        "role": member.role,
        "role_title": ROLES[member.role],
        "lot": coupon.lot.code,
        "parent": coupon.parent.code if coupon.parent else "",
        "cut": "; ".join(part for part in cut if part),
        "size": f"{size} mm" if size else "",
        "area": number(coupon.exposed_area_mm2, "mm²"),
        "state": STATES[coupon.state],
        "logged_at": moment(coupon.created_at),
        "remark": coupon.remark,
        "n_runs": len(runs),
    }


def _substrate_lots(stored):
    lots = {coupon.lot_id: coupon.lot for coupon in stored.coupons.values()}
    return [
        {
            "code": lot.code,
            "material": f"{lot.material} {lot.grade}".strip(),
            "form": lot.form,
            "thickness": number(lot.thickness_mm, "mm"),
            "supplier_lot": lot.supplier_lot,
            "roughness": number(lot.roughness_ra_um, "µm"),
            "direction": lot.direction,
            "received_on": day(lot.received_on),
        }
        for lot in lots.values()
    ]


def _counts(stored):
    tested = {run.coupon_id for run in stored.runs}
    treated = [pk for pk, role in stored.roles.items() if role == TREATED]
    readings = [row for run in stored.runs for row in run.readings.all() if row.is_current]
    return {
        "treated": len(treated),
        "treated_tested": len(tested.intersection(treated)),
        "others": len(stored.roles) - len(treated),
        "not_tested": stored.names(set(stored.coupons) - tested),
        "runs": len(stored.runs),
        "readings": len(readings),
        "not_moved": sum(row.qualifier == "not_moved" for row in readings),
        "moved_on_placing": sum(row.qualifier == "moved_on_placing" for row in readings),
        "lost": sum(row.qualifier == "lost" for row in readings),
        "excluded": sum(row.is_excluded for row in readings),
    }
