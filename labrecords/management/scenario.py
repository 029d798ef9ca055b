"""The invented demo scenario, loaded through the same actions that people use. A second time adds nothing."""

from __future__ import annotations

import csv
import io
import json
import secrets
from datetime import date, datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from labrecords.actions import (
    account,
    assessments,
    batches,
    coupons,
    criteria,
    data_sheets,
    instruments,
    laboratory,
    liquids,
    materials,
    methods,
    people,
    processing,
    projects,
    recipes,
    runs,
)
from labrecords.exchange import materials as reference_materials
from labrecords.exchange import readings
from labrecords.models import (
    Batch,
    BathLot,
    ChallengeLiquid,
    CriterionSet,
    Lubricant,
    LubricantLot,
    Person,
    Qualification,
    Reading,
    TestRun,
)
from labrecords.reports import qualification

FOLDER = settings.ROOT / "fixtures" / "demo"


def is_loaded() -> bool:
    """The specification is the scenario's last row but the readings; it tells whether a load got that far."""
    return CriterionSet.objects.filter(code=_scenario()["criteria"]["code"]).exists()


def load(password: str) -> None:
    """People, lots, recipe, batches and readings, then the review of every run."""
    scenario = _scenario()
    if not is_loaded():
        # All or nothing: a load that is cut off leaves an empty database, not half a scenario. Each action inside
        # still books its changes to its own person and reason.
        with transaction.atomic():
            _load_everything(scenario, password)


def qualify(password: str) -> list[Qualification]:
    """One issued qualification a batch; those that were issued before are returned as they are."""
    revision = CriterionSet.objects.get(code=_scenario()["criteria"]["code"]).revisions.get(number=1)
    issued = []
    for batch in Batch.objects.filter(code__in=[row["code"] for row in _scenario()["batches"]]):
        there = batch.qualifications.filter(criterion_revision=revision).first()
        issued.append(there or _signed_and_issued(batch, revision, password))
    return issued


def _signed_and_issued(batch, revision, password):
    """Every step by whose it is: the developer is the author, a reviewer reviews, quality approves and issues."""
    mirun, oda, pell = (Person.objects.get(username=name) for name in ("mirun", "oda", "pell"))
    assessment = batch.assessments.filter(criterion_revision=revision, state="draft").first()
    assessment = assessment or assessments.prepare(by=mirun, batch=batch, criterion_revision=revision)
    signing = {"assessment": assessment, "version": assessment.version, "password": password}
    assessments.complete(by=mirun, **signing)
    assessments.review(by=oda, **signing)
    assessments.approve(by=pell, **signing)
    return qualification.issue(by=pell, assessment=assessment)


def sign_in_file() -> Path:
    return settings.DATA / "demo-sign-in.txt"


def password() -> str:
    """The demo people's password: made once for this data folder and kept there."""
    path = sign_in_file()
    if not path.exists():
        path.write_text(f"dew-{secrets.token_hex(4)}\n")
        path.chmod(0o600)
    return path.read_text().strip()


def _scenario():
    return json.loads((FOLDER / "scenario.json").read_text(encoding="utf-8"))


def _load_everything(scenario, password):
    admin = people.install(**scenario["administrator"], password=password)
    cast = {row["username"]: _add_person(admin, row, password) for row in scenario["people"]}
    developer, operator = cast["mirun"], cast["tavi"]
    laboratory.set_up(by=admin, **scenario["laboratory"])
    project = projects.start(by=developer, **scenario["project"])
    lots = [materials.log_lot(by=developer, **_dated(row)) for row in scenario["lots"]]
    reference_materials.load(by=developer)
    _load_lots(developer, scenario)
    for row in scenario["instruments"]:
        rig = instruments.create(by=developer, **{key: value for key, value in row.items() if key != "calibration"})
        instruments.calibrate(by=developer, instrument=rig, **_dated(row["calibration"]))
    for row in scenario["methods"]:
        methods.fix_version(by=developer, **_with_liquid(row))
    revision = _load_recipe(developer, project, scenario["recipe"])
    _load_criteria(developer, project, scenario["criteria"])
    marks = {}
    for row in scenario["batches"]:
        marks |= _load_batch(cast, scenario, row, revision, lots, project)
    _load_readings(operator, marks)
    _exclude(cast["wenna"], scenario["excluded"])
    for run in TestRun.objects.filter(state="complete").select_related("coupon"):
        runs.review(by=cast["oda"], run=run)


def _add_person(admin, row, password):
    """As in a lab: a start password from the administrator, then the person's own."""
    start = secrets.token_urlsafe(12)
    person = people.add(by=admin, password=start, **row)
    return account.change_password(by=person, password=start, new_password=password)


def _load_lots(by, scenario):
    for row in scenario["liquid_lots"]:
        liquids.log_lot(by=by, **_with_liquid(_dated(row)))
    for row in scenario["lubricant_lots"]:
        fields = _dated(row)
        liquids.log_lubricant_lot(by=by, **fields | {"lubricant": Lubricant.objects.get(code=row["lubricant"])})
    for row in scenario["bath_lots"]:
        liquids.log_bath_lot(by=by, **_dated(row))
    for row in scenario["data_sheets"]:
        data_sheets.record(by=by, **row | {"revised_on": date.fromisoformat(row["revised_on"])})


def _load_recipe(by, project, recipe):
    first, *later = [_steps(recipe["steps"], revision) for revision in recipe["revisions"]]
    revision = recipes.create(
        by=by,
        code=recipe["code"],
        title=recipe["title"],
        project=project,
        steps=first,
        note=recipe["revisions"][0]["why"],
    )
    for steps, told in zip(later, recipe["revisions"][1:], strict=True):
        revision = recipes.revise(by=by, why=told["why"], recipe=revision.recipe, steps=steps)
    for row in recipe["properties"]:
        owners = {"against_liquid": ChallengeLiquid, "against_lubricant": Lubricant}
        fields = {key: owners[key].objects.get(code=value) if key in owners else value for key, value in row.items()}
        liquids.add_property(by=by, recipe=revision.recipe, **fields)
    return revision


def _steps(steps, told):
    """The recipe's steps as an earlier revision had them: some left out, another drain time."""
    kept = [json.loads(json.dumps(step)) for step in steps if step["kind"] not in told["drop"]]
    for step in kept:
        if "drain_min" in step["planned"]:
            step["planned"]["drain_min"]["value"] = told["drain_min"]
    return kept


def _load_criteria(by, project, told):
    rows = [_with_liquid(row) for row in told["rows"]]
    criteria.create(
        by=by,
        code=told["code"],
        title=told["title"],
        project=project,
        fixed_on=date.fromisoformat(told["fixed_on"]),
        when_inconclusive=told["when_inconclusive"],
        criteria=rows,
    )


def _load_batch(cast, scenario, row, revision, lots, project):
    """Sheet, six coupons cut from it, control and reference, the batch, and every step of its processing."""
    operator, letter = cast[row["operator"]], row["letter"]
    sheet = coupons.log(
        by=operator,
        why="sheet taken from stock",
        lot=lots[0],
        project=project,
        marks=[f"SHEET-{letter}"],
        length_mm=150,
        width_mm=100,
        place="sheet rack",
        orientation="along rolling direction",
    )[0]
    size = {
        "length_mm": 40,
        "width_mm": 40,
        "exposed_area_mm2": 1600,
        "place": f"box {letter}",
        "marked_face": "back, lower edge",
    }
    pieces = [
        {
            "mark": f"{letter}{number:02d}",
            "position": f"row {(number + 2) // 3}, column {(number - 1) % 3 + 1}",
        }
        | size
        for number in range(1, 7)
    ]
    treated = coupons.split(by=operator, why="cut into six", coupon=sheet, pieces=pieces)
    control = coupons.log(by=operator, lot=lots[0], project=project, marks=[f"K{letter}"], **size)
    reference = coupons.log(by=operator, lot=lots[1], project=project, marks=[f"R{letter}"], **size)
    batch = batches.form(
        by=cast["mirun"],
        code=row["code"],
        title=row["title"],
        project=project,
        recipe_revision=revision,
        lot=lots[0],
        treated=treated,
        control=control,
        reference=reference,
        sampling=scenario["sampling"],
        treatment="boiled, phosphonic acid, silicone oil",
    )
    _process(cast, batch, treated, row)
    return {coupon.mark: coupon.code for coupon in [*treated, *control, *reference]}


_BATHS = {"alkaline_etch": "BATH-ALK-11", "desmut": "BATH-DES-6", "phosphonic_acid": "ODPA-9"}


def _process(cast, batch, treated, row):
    """Each step in turn; coupons that were done apart (another operator) get a record of their own."""
    start = timezone.make_aware(datetime.combine(date.fromisoformat(row["day"]), time(8, 30)))
    apart = row.get("apart", {})
    for step in batch.recipe_revision.steps.all():
        minutes = _minutes(step)
        mine = [coupon for coupon in treated if step.kind != apart.get("step") or coupon.mark not in apart["marks"]]
        others = [coupon for coupon in treated if coupon not in mine]
        details = {
            "batch": batch,
            "step": step,
            "started_at": start,
            "finished_at": start + timedelta(minutes=minutes),
            "bath_lots": BathLot.objects.filter(code=_BATHS.get(step.kind, "")),
            "lubricant_lots": LubricantLot.objects.all() if step.declaration.infuses else [],
        }
        actual = row["actual"].get(step.kind) or _as_planned(step)
        processing.record(
            by=cast[row["operator"]],
            coupons=mine,
            actual=actual,
            reasons=row.get("reasons", {}).get(step.kind),
            **details,
        )
        if others:
            processing.record(
                by=cast[apart["operator"]],
                coupons=others,
                actual=apart["actual"],
                reasons=apart["reasons"],
                **details,
            )
        start += timedelta(minutes=minutes + 10)


def _as_planned(step):
    return {key: entry.get("value", entry.get("text")) for key, entry in step.planned.items()}


def _minutes(step):
    planned = step.planned
    if "duration_h" in planned:
        return 60 * planned["duration_h"]["value"]
    if "duration_s" in planned:
        return planned["duration_s"]["value"] / 60
    return sum(planned[key]["value"] for key in ("duration_min", "rest_min", "drain_min") if key in planned) or 5


def _load_readings(by, marks):
    """The readings file through the ordinary import, each coupon's mark replaced by the code it was given here."""
    rows = list(csv.DictReader(io.StringIO((FOLDER / "readings.csv").read_text(encoding="utf-8"))))
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys(), lineterminator="\n")
    writer.writeheader()
    writer.writerows(row | {"coupon": marks[row["coupon"]]} for row in rows)
    readings.import_file(by=by, data=out.getvalue().encode(), name="readings.csv")


def _exclude(by, told):
    reading = Reading.objects.current().get(run__code=told["run"], position=told["position"])
    runs.exclude(by=by, why=told["why"], reading=reading)


def _dated(row):
    """The row with its date fields turned into dates and its project into the project."""
    return {key: date.fromisoformat(value) if key.endswith("_on") else value for key, value in row.items()}


def _with_liquid(row):
    return row | ({"liquid": ChallengeLiquid.objects.get(code=row["liquid"])} if row.get("liquid") else {})
