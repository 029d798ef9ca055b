"""Plain helpers that make records through the same actions people use. Every name and number here is invented."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import count

from django.contrib.auth.hashers import Argon2PasswordHasher
from django.utils import timezone

from labrecords import trail
from labrecords.actions import (
    assessments,
    batches,
    coupons,
    criteria,
    instruments,
    laboratory,
    liquids,
    materials,
    methods,
    processing,
    recipes,
    runs,
)
from labrecords.models import Laboratory, Person
from labrecords.reports import qualification

PASSWORD = "bench-water-tilt-7"
_number = count(1)


def make_person(role="quality", username="", full_name=""):
    number = next(_number)
    with trail.recorded("tests", "a member of the cast"):
        person = Person(
            username=username or f"{role}{number}",
            full_name=full_name or f"{role.title()} {number}",
            role=role,
        )
        person.password = _hashed()
        person.save()
    return person


class QuickHasher(Argon2PasswordHasher):
    """The hash says with which parameters it was made: tests of signing do not wait for each password."""

    time_cost, memory_cost, parallelism = 1, 8, 1


@lru_cache(1)
def _hashed():
    hasher = QuickHasher()
    return hasher.encode(PASSWORD, hasher.salt())


def make_lab(by):
    return Laboratory.objects.first() or laboratory.set_up(
        by=by, name="Invented Surface Lab", address="1 Example Lane", site="TS"
    )


def make_lot(by, **fields):
    make_lab(by)
    details = {
        "code": f"SHEET-{next(_number)}",
        "material": "Aluminium",
        "grade": "1050 H14",
        "form": "sheet",
    } | fields
    return materials.log_lot(by=by, **details)


def make_coupon(by, lot=None, **fields):
    return coupons.log(by=by, lot=lot or make_lot(by), **{"exposed_area_mm2": 1600.0} | fields)[0]


def make_recipe(by, steps=None, **fields):
    steps = steps or [
        {
            "kind": "boiling",
            "planned": {
                "temperature_c": {"value": 97, "tolerance": 2},
                "duration_min": {"value": 20, "tolerance": 2},
            },
        },
        {"kind": "dry", "planned": {"way": {"text": "nitrogen"}}},
    ]
    return recipes.create(by=by, **{"code": f"RECIPE-{next(_number)}", "title": "Boiled", "steps": steps} | fields)


def make_liquid(by, name="Water", tension=72.74, density=998.2, **fields):
    liquid = liquids.create(by=by, code=f"LIQUID-{next(_number)}", name=name, **fields)
    for quantity, value in (("surface_tension", tension), ("density", density)):
        liquids.add_property(
            by=by,
            liquid=liquid,
            quantity=quantity,
            value=value,
            source="invented for a test",
            uncertainty=0.1,
        )
    return liquid


def make_liquid_lot(by, liquid=None, **fields):
    details = {"code": f"LOT-{next(_number)}", "prepared_on": date(2026, 1, 5)} | fields
    return liquids.log_lot(by=by, liquid=liquid or make_liquid(by), **details)


def make_instrument(by, due=date(2099, 1, 1), **fields):
    rig = instruments.create(by=by, **{"code": f"RIG-{next(_number)}", "title": "Tilt stage with camera"} | fields)
    instruments.calibrate(by=by, instrument=rig, done_on=date(2026, 1, 1), due_on=due, result="zero within 0.1°")
    return rig


SETTINGS = {
    "sliding_angle": {
        "stage_limit_deg": 30,
        "tilt_rate_deg_per_s": 1,
        "wait_s": 10,
        "moved_rule": "both contact lines moved by more than one base width",
    },
}


def make_method_version(by, method="sliding_angle", settings=None, **fields):
    """A version with every required setting filled: given ones, else the lower bound or a word."""
    from analysis import METHODS

    filled = {}
    for setting in METHODS[method].settings:
        if setting.is_required:
            filled[setting.key] = "as agreed" if setting.kind == "text" else max(setting.low or 0, 1)
    return methods.fix_version(
        by=by, method=method, settings=filled | SETTINGS.get(method, {}) | (settings or {}), **fields
    )


def make_run(by, coupon=None, method_version=None, **fields):
    details = {
        "observed_at": timezone.make_aware(datetime(2026, 3, 2, 9, 0)) + timedelta(minutes=next(_number) % 600),
        "drop_volume_ul": 10.0,
        "room_temperature_c": 23.0,
        "room_humidity_pct": 50.0,
    } | fields
    details.setdefault("liquid_lot", None) or details.update(liquid_lot=make_liquid_lot(by))
    details.setdefault("instrument", None) or details.update(instrument=make_instrument(by))
    return runs.enter(
        by=by,
        coupon=coupon or make_coupon(by),
        method_version=method_version or make_method_version(by),
        **details,
    )


def sliding(values, quantity="sliding_angle"):
    """Typed readings of one position: a number, or ">" for a drop that did not move."""
    return [
        runs.Typed(quantity=quantity, drop=drop, qualifier="not_moved")
        if value == ">"
        else runs.Typed(quantity=quantity, drop=drop, value=value)
        for drop, value in enumerate(values, start=1)
    ]


def pairs(values):
    """Typed advancing and receding angles, one tuple a drop."""
    typed = []
    for drop, (advancing, receding) in enumerate(values, start=1):
        typed.append(runs.Typed(quantity="advancing_angle", drop=drop, value=advancing))
        typed.append(runs.Typed(quantity="receding_angle", drop=drop, value=receding))
    return typed


def make_batch(by, n=3, **fields):
    lot = make_lot(by)
    treated = coupons.log(by=by, lot=lot, count=n, exposed_area_mm2=1600.0)
    details = {
        "code": f"BATCH-{next(_number)}",
        "recipe_revision": make_recipe(by),
        "treated": treated,
    } | fields
    return batches.form(by=by, lot=lot, **details)


def make_criteria(by, rows=None, **fields):
    rows = rows or [
        {
            "label": "C1",
            "kind": "mean_interval",
            "quantity": "sliding_angle",
            "limit": 10,
            "parameters": {"statistic": "median", "confidence": 0.95},
        }
    ]
    details = {
        "code": f"SPEC-{next(_number)}",
        "title": "Shedding",
        "fixed_on": date(2026, 1, 1),
        "when_inconclusive": "six further coupons, once",
    }
    return criteria.create(by=by, criteria=rows, **details | fields)


def make_tested_batch(by, n=3, drops=5, seed=1, reviewer=None, control=True, read_at=None, **fields):
    """A processed batch whose coupons have a run of both angles and a run of sliding angles each, all completed.

    `read_at`: when they were read; without it long before anything was entered, specifications too.
    """
    draw = random.Random(seed)
    batch = make_batch(by, n, control=[make_coupon(by, mark="CTRL")] if control else [], **fields)
    start = timezone.make_aware(datetime(2026, 2, 27, 8, 0))
    treated = [member.coupon for member in batch.members.filter(role="treated")]
    for step in batch.recipe_revision.steps.all():
        actual = {key: entry.get("value", entry.get("text")) for key, entry in step.planned.items()}
        processing.record(
            by=by,
            batch=batch,
            step=step,
            coupons=treated,
            started_at=start,
            finished_at=start + timedelta(hours=1),
            actual=actual,
        )
    shared = {"liquid_lot": make_liquid_lot(by), "instrument": make_instrument(by)}
    shared |= {"observed_at": read_at} if read_at else {}
    versions = [make_method_version(by, "advancing_receding"), make_method_version(by, "sliding_angle")]
    for member in batch.members.select_related("coupon"):
        stuck = member.role == "control"
        centre = 25 if stuck else draw.gauss(2, 0.4)
        angles = [
            (round(113 + draw.gauss(0, 0.5), 1), round(113 - centre - abs(draw.gauss(0, 0.4)) - 1, 1))
            for _ in range(drops)
        ]
        tilts = [">" if stuck else round(abs(draw.gauss(4, 1)) + 0.5, 1) for _ in range(drops)]
        for version, typed in zip(versions, (pairs(angles), sliding(tilts)), strict=True):
            run = make_run(by, coupon=member.coupon, method_version=version, **shared)
            runs.record(by=by, run=run, readings=typed)
            run = runs.complete(by=by, run=run)
            if reviewer:
                runs.review(by=reviewer, run=run)
    return batch


def make_shedding_criteria(by, **fields):
    """Batch mean of the hysteresis, of the sliding angle, and drops not moved, for treated coupons."""
    return make_criteria(
        by,
        [
            {
                "label": "C1",
                "kind": "mean_interval",
                "quantity": "hysteresis",
                "limit": 5,
                "parameters": {"statistic": "mean"},
            },
            {
                "label": "C2",
                "kind": "mean_interval",
                "quantity": "sliding_angle",
                "limit": 8,
                "parameters": {"statistic": "median"},
            },
            {"label": "C3", "kind": "count_not_moved", "quantity": "sliding_angle", "limit": 1, "parameters": {}},
        ],
        **fields,
    )


def sign(assessment, author=None, reviewer=None, approver=None, until="approve"):
    """The signatures of an assessment in their order, each by another person where none is given."""
    people = {"complete": (author, "developer"), "review": (reviewer, "reviewer"), "approve": (approver, "quality")}
    for step, (person, role) in people.items():
        by = person or make_person(role)
        action = getattr(assessments, step)
        assessment = action(by=by, assessment=assessment, version=assessment.version, password=PASSWORD)
        if step == until:
            break
    return assessment


def issue_report(batch, revision, author=None, reviewer=None, approver=None, render=None, amends=None, **details):
    """A report by all its steps. `render` makes the file in place of the real one; the rest goes to the issue."""
    author, approver = author or make_person("developer"), approver or make_person("quality")
    told = {name: details.pop(name) for name in ("amendment", "amendment_reason") if name in details}
    assessment = assessments.prepare(by=author, batch=batch, criterion_revision=revision, amends=amends, **told)
    assessment = sign(assessment, author, reviewer, approver)
    if render:
        return assessments.issue(by=approver, assessment=assessment, render=render, **details)
    return qualification.issue(by=approver, assessment=assessment, **details)
