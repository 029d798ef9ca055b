"""Rules that the database holds: each has a case here that goes around all Python checks and tries to break it."""

from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import DatabaseError, IntegrityError, connection, models, transaction
from django.utils import timezone

from labrecords import trail
from labrecords.actions import attachments, batches, coupons, runs
from labrecords.models import (
    Analysis,
    AnsweredRequest,
    ApiToken,
    Assessment,
    AssessmentVersion,
    Attachment,
    Batch,
    BatchMember,
    BathLot,
    Calibration,
    ChallengeLiquid,
    Coupon,
    Criterion,
    CriterionRevision,
    CriterionSet,
    DataSheet,
    Deviation,
    Instrument,
    Laboratory,
    Link,
    LiquidLot,
    Lubricant,
    LubricantLot,
    MethodVersion,
    Person,
    ProcessedCoupon,
    ProcessLot,
    ProcessRecord,
    Project,
    ProjectMember,
    Property,
    Qualification,
    Reading,
    Recipe,
    RecipeRevision,
    RecipeStep,
    Release,
    RunOperator,
    Signature,
    StoredFile,
    SubstrateLot,
    TestRun,
)
from tests.factories import (
    issue_report,
    make_batch,
    make_criteria,
    make_instrument,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
    sliding,
)

pytestmark = pytest.mark.django_db
NOW = timezone.make_aware(datetime(2026, 3, 2, 9))
NAN, INFINITY = float("nan"), float("inf")


@pytest.fixture
def lab():
    """One valid row of everything, to be broken."""
    by = make_person()
    other = make_person("reviewer")
    batch = make_batch(by, n=3)
    coupon = batch.members.first().coupon
    run = make_run(by, coupon=coupon)
    runs.record(by=by, run=run, readings=sliding([4.0]))
    step = batch.recipe_revision.steps.first()
    revision = make_criteria(by)
    attachment = attachments.add(by=by, owner=coupon, name="note.txt", data=b"seen")
    with trail.recorded("tests", "rows to break"):
        process = ProcessRecord.objects.create(batch=batch, step=step, operator=by, started_at=NOW, created_by=by)
        ProcessedCoupon.objects.create(process=process, coupon=coupon, created_by=by)
        project = Project.objects.create(code="P-1", title="Wings", created_by=by)
        ProjectMember.objects.create(project=project, person=by, created_by=by)
        lubricant = Lubricant.objects.create(code="OIL", name="Oil", created_by=by)
        way = Assessment.objects.create(batch=batch, criterion_revision=revision, created_by=by)
        kept = AssessmentVersion.objects.create(
            assessment=way, number=1, evidence={"report": {"amends": None}}, content_sha256="x", verdict="pass",
            created_by=by,
        )  # fmt: skip
        Signature.objects.create(assessment=way, person=by, meaning="author", created_by=by)
        DataSheet.objects.create(**SHEET, created_by=by)
        Release.objects.create(program="1", analysis="1", checked="12 passed", place="folder 1", created_by=by)
        bath = BathLot.objects.create(code="BATH", title="Bath", prepared_on=NOW.date(), created_by=by)
    return SimpleNamespace(
        by=by,
        other=other,
        batch=batch,
        coupon=coupon,
        run=run,
        reading=run.readings.get(),
        attachment=attachment,
        stored=attachment.stored,
        step=step,
        process=process,
        lubricant=lubricant,
        bath=bath,
        revision=revision,
        project=project,
        lot=batch.lot,
        liquid_lot=run.liquid_lot,
        instrument=run.instrument,
        version=run.method_version,
        way=way,
        kept=kept,
    )


SHEET = {"material": "Ethanol", "hazards": ["solvent"], "place": "folder 1", "revised_on": date(2026, 1, 5)}


def new(model, **fields):
    return lambda lab: model.objects.bulk_create(
        [model(created_by=lab.by, **{k: v(lab) if callable(v) else v for k, v in fields.items()})]
    )


def change(model, **fields):
    """Overwrite a column of every row by SQL."""
    return lambda lab: model.objects.update(**{k: v(lab) if callable(v) else v for k, v in fields.items()})


def unguarded(attempt):
    """The attempt of an owner of the database who has switched the triggers off: what a constraint still refuses."""

    def tried(lab):
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL session_replication_role = replica")  # until the attempt is rolled back
        return attempt(lab)

    return tried


def of(name):
    return lambda lab: getattr(lab, name)


def reading(**fields):
    return new(Reading, **{"run": of("run"), "quantity": "sliding_angle", "drop": 7, "value": 5.0} | fields)


def run_row(**fields):
    return new(
        TestRun,
        **{"code": "X", "coupon": of("coupon"), "method_version": of("version"), "observed_at": NOW} | fields,
    )


def criterion(**fields):
    return new(
        Criterion,
        **{
            "revision": of("revision"),
            "order": 9,
            "label": "C9",
            "kind": "mean_interval",
            "quantity": "hysteresis",
            "limit": 1.0,
        }
        | fields,
    )


def prop(**fields):
    return new(
        Property,
        **{"lubricant": of("lubricant"), "quantity": "density", "value": 1.0, "source": "s"} | fields,
    )


def token(**fields):
    return lambda lab: ApiToken.objects.bulk_create(
        [ApiToken(**{"person": lab.by, "name": "rig", "digest": "0" * 128, "expires_at": NOW} | fields)]
    )


def lot_dates(model, **fields):
    return new(model, **{"code": "X", "prepared_on": date(2026, 3, 2), "expires_on": date(2026, 3, 1)} | fields)


def stored_file(**fields):
    return new(StoredFile, **{"kind": "text", "size": 1, "file": b"x", "sha256": SHA256_OF_X} | fields)


# published: SHA-256 of the one byte "x" and of nothing, as `printf x | sha256sum` and `sha256sum /dev/null` print them
SHA256_OF_X = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"
SHA256_OF_NOTHING = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def issued_row(**fields):
    """A report put straight into its table, which its trigger alone would refuse; it amends the first one."""
    return unguarded(
        new(
            Qualification,
            **{
                "report_number": "Q",
                "batch": of("batch"),
                "criterion_revision": of("revision"),
                "verdict": "pass",
                "outcomes": [],
                "evidence": {},
                "issued_at": NOW,
                "issued_by": of("by"),
                "amends_id": 1,
                "file": b"x",
                "sha256": "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881",
            }
            | fields,
        )
    )


BREAKERS = {
    "attachment_named": new(Attachment, coupon=of("coupon"), stored=of("stored"), name=""),
    "attachment_has_one_owner": new(Attachment, coupon=of("coupon"), run=of("run"), stored=of("stored"), name="x.txt"),
    "attachment_withdrawn_by_and_why": change(Attachment, withdrawn_because="no name"),
    "storedfile_kind_known": stored_file(kind="html"),
    "storedfile_size": stored_file(size=0, file=b"", sha256=SHA256_OF_NOTHING),
    "storedfile_has_size": stored_file(size=2),
    "storedfile_matches_sha256": stored_file(sha256="0" * 64),
    "laboratory_is_one_row": new(Laboratory, id=2, name="L", address="A", site="X"),
    "laboratory_scheme_has_number": change(Laboratory, coupon_scheme="{site}"),
    "project_coded": new(Project, code="", title="x"),
    "projectmember_once": new(ProjectMember, project=of("project"), person=of("by")),
    "substratelot_coded": new(SubstrateLot, code="", material="x", form="sheet"),
    "substratelot_thickness": change(SubstrateLot, thickness_mm=-1),
    "substratelot_roughness": change(SubstrateLot, roughness_ra_um=NAN),
    "coupon_state_known": change(Coupon, state="borrowed"),
    "coupon_length": change(Coupon, length_mm=0),
    "coupon_width": change(Coupon, width_mm=INFINITY),
    "coupon_area": change(Coupon, exposed_area_mm2=NAN),
    "coupon_not_its_own_parent": lambda lab: Coupon.objects.filter(pk=lab.coupon.pk).update(parent=lab.coupon.pk),
    "coupon_code_readable": new(Coupon, code="a b", number=999, lot=of("lot")),
    "bathlot_coded": new(BathLot, code="", title="x", prepared_on=NOW.date()),
    "bathlot_dates": lot_dates(BathLot, title="x"),
    "lubricant_coded": new(Lubricant, code="", name="x"),
    "lubricantlot_coded": new(LubricantLot, code="", lubricant=of("lubricant"), prepared_on=NOW.date()),
    "lubricantlot_dates": lot_dates(LubricantLot, lubricant=of("lubricant")),
    "challengeliquid_coded": new(ChallengeLiquid, code="", name="x"),
    "liquidlot_coded": new(LiquidLot, code="", liquid=lambda lab: lab.liquid_lot.liquid, prepared_on=NOW.date()),
    "liquidlot_dates": lot_dates(LiquidLot, liquid=lambda lab: lab.liquid_lot.liquid),
    "property_has_one_owner": prop(liquid=lambda lab: lab.liquid_lot.liquid),
    "property_value_finite": prop(value=NAN),
    "property_uncertainty": prop(uncertainty=-0.1),
    "property_sourced": prop(source=""),
    "recipe_coded": new(Recipe, code="", title="x"),
    "reciperevision_numbered_once": new(RecipeRevision, recipe=lambda lab: lab.step.revision.recipe, number=1),
    "reciperevision_number": new(RecipeRevision, recipe=lambda lab: lab.step.revision.recipe, number=0),
    "recipestep_ordered_once": new(RecipeStep, revision=lambda lab: lab.step.revision, order=1, kind="boiling"),
    "batch_coded": new(Batch, code="", recipe_revision=lambda lab: lab.step.revision, lot=of("lot")),
    "batchmember_once": new(BatchMember, batch=of("batch"), coupon=of("coupon"), role="control"),
    "batchmember_treated_in_one_batch": lambda lab: new(
        BatchMember, batch=make_batch(lab.by, n=1), coupon=of("coupon")
    )(lab),
    "batchmember_role_known": change(BatchMember, role="spare"),
    "processrecord_times": change(ProcessRecord, finished_at=NOW - timedelta(minutes=1)),
    "processedcoupon_once": new(ProcessedCoupon, process=of("process"), coupon=of("coupon")),
    "processedcoupon_mass_before": change(ProcessedCoupon, mass_before_mg=-1),
    "processedcoupon_mass_after": change(ProcessedCoupon, mass_after_mg=NAN),
    "processlot_is_one_lot": new(ProcessLot, process=of("process")),
    "deviation_described": new(Deviation, batch=of("batch"), what="", reason="x"),
    "deviation_explained": new(Deviation, batch=of("batch"), what="x", reason=""),
    "datasheet_of_a_material": new(DataSheet, **SHEET | {"material": ""}),
    "datasheet_lies_somewhere": new(DataSheet, **SHEET | {"place": ""}),
    "datasheet_has_hazards": new(DataSheet, **SHEET | {"hazards": []}),
    "datasheet_edition_once": new(DataSheet, **SHEET | {"material": "ETHANOL"}),
    "datasheet_withdrawn_by_and_why": new(DataSheet, **SHEET, withdrawn_because="spilt"),
    "release_checked": new(Release, program="1", place="folder 1"),
    "release_kept": new(Release, program="1", checked="12 passed"),
    "instrument_coded": new(Instrument, code="", title="x"),
    "calibration_dates": new(
        Calibration, instrument=of("instrument"), done_on=date(2026, 2, 2), due_on=date(2026, 2, 1), result="x"
    ),
    "calibration_once_a_day": new(
        Calibration, instrument=of("instrument"), done_on=date(2026, 1, 1), due_on=date(2026, 2, 1), result="x"
    ),
    "methodversion_numbered_once": new(MethodVersion, method="sliding_angle", number=1),
    "methodversion_volume": new(MethodVersion, method="sliding_angle", number=2, drop_volume_ul=0),
    "testrun_coded": run_row(code=""),
    "testrun_state_known": run_row(state="signed", completed_by=of("by"), completed_at=NOW),
    "testrun_dose_kind_known": run_row(dose=1, dose_kind="moons"),
    "testrun_volume": run_row(drop_volume_ul=NAN),
    "testrun_dose": run_row(dose=-1),
    "testrun_humidity": run_row(room_humidity_pct=101),
    "testrun_temperature": run_row(room_temperature_c=NAN),
    "testrun_dose_has_kind": run_row(dose=20),
    "testrun_exposure_has_dose": run_row(exposure_kind="tape"),
    "testrun_completed_by_and_at": run_row(state="complete"),
    "testrun_reviewed_by_and_at": run_row(state="reviewed", completed_by=of("by"), completed_at=NOW),
    "testrun_reviewed_by_another": run_row(
        state="reviewed", completed_by=of("by"), completed_at=NOW, reviewed_by=of("by"), reviewed_at=NOW
    ),
    "runoperator_once": new(RunOperator, run=of("run"), person=of("by")),
    "reading_once": reading(drop=1),
    "reading_qualifier_known": reading(qualifier="guessed"),
    "reading_value_finite": reading(quantity="lubricant_mass", value=NAN),
    "reading_drop": reading(drop=0),
    "reading_value_or_lost": reading(value=None),
    "reading_angle_within_180": reading(value=180.1),
    "reading_not_moved_has_limit": reading(qualifier="not_moved", value=0),
    "reading_excluded_by_and_why": change(Reading, excluded_because="no name"),
    "criterionset_coded": new(CriterionSet, code="", title="x"),
    "criterionrevision_numbered_once": new(
        CriterionRevision,
        criterion_set=lambda lab: lab.revision.criterion_set,
        number=1,
        fixed_on=NOW.date(),
        when_inconclusive="x",
    ),
    "criterionrevision_number": new(
        CriterionRevision,
        criterion_set=lambda lab: lab.revision.criterion_set,
        number=0,
        fixed_on=NOW.date(),
        when_inconclusive="x",
    ),
    "criterionrevision_inconclusive": new(
        CriterionRevision,
        criterion_set=lambda lab: lab.revision.criterion_set,
        number=2,
        fixed_on=NOW.date(),
        when_inconclusive="",
    ),
    "criterion_labelled_once": criterion(label="C1"),
    "criterion_ordered_once": criterion(order=1),
    "criterion_side_known": criterion(side="about"),
    "criterion_limit_finite": criterion(limit=NAN),
    "criterion_dose_has_kind": criterion(dose=5),
    "person_username_unique": lambda lab: Person.objects.bulk_create(
        [Person(username=lab.by.username.upper(), full_name="Twin", role="operator")]
    ),
    "person_role_known": change(Person, role="king"),
    "person_named": change(Person, full_name=""),
    "answeredrequest_key_once_a_person": lambda lab: [
        AnsweredRequest.objects.create(person=lab.by, key="k", digest="d") for _ in range(2)
    ],
    "apitoken_scope_known": token(scope="everything"),
    "apitoken_named": token(name=""),
    "instrument_out_of_service_since": new(Instrument, code="RIG-X", title="x", is_in_service=False),
    "link_once_an_entry": lambda lab: [
        Link.objects.create(seq=900 + place, source="x", event=1, entry="{}", hash=b"x") for place in (1, 2)
    ],
    "analysis_of_run_or_batch": new(Analysis, content={}, inputs_digest="x", code_version="x", is_current=False),
    "analysis_one_current_a_run": new(Analysis, run=of("run"), content={}, inputs_digest="x", code_version="x"),
    "analysis_one_current_a_batch": lambda lab: [
        new(Analysis, batch=of("batch"), content={}, inputs_digest="x", code_version="x")(lab) for _ in range(2)
    ],
    "assessment_state_known": unguarded(change(Assessment, state="lost")),
    "assessment_version": unguarded(change(Assessment, version=0)),
    "assessment_amends_with_reason": new(
        Assessment, batch=of("batch"), criterion_revision=lambda lab: make_criteria(lab.by), amendment="amends"
    ),
    "assessment_one_on_its_way": new(Assessment, batch=of("batch"), criterion_revision=of("revision")),
    "assessmentversion_numbered_once": new(
        AssessmentVersion, assessment=of("way"), number=1, evidence={}, content_sha256="x", verdict="pass"
    ),
    "assessmentversion_verdict_known": unguarded(
        new(AssessmentVersion, assessment=of("way"), number=2, evidence={}, content_sha256="x", verdict="maybe")
    ),
    "signature_meaning_known": unguarded(
        new(Signature, assessment=of("way"), person=of("by"), meaning="witness", version=1)
    ),
    "signature_once": new(Signature, assessment=of("way"), person=of("by"), meaning="author"),
    "signature_by_who_signs": unguarded(
        new(Signature, assessment=of("way"), person=of("other"), meaning="review", version=1)
    ),
    "qualification_amended_once": lambda lab: [issued_row(report_number=number)(lab) for number in "AB"],
    "qualification_verdict_known": issued_row(verdict="maybe"),
    "qualification_file_matches_sha256": issued_row(sha256="0" * 64),
}


def declared(kind):
    records = [m for m in apps.get_app_config("labrecords").get_models() if not hasattr(m, "pgh_tracked_model")]
    return {item.name: model for model in records for item in getattr(model._meta, kind)}


def test_every_constraint_has_its_breaker():
    assert set(BREAKERS) == set(declared("constraints"))


def test_database_refuses_what_breaks(lab, subtests):
    for name, attempt in sorted(BREAKERS.items()):
        with subtests.test(name):
            with (
                pytest.raises(IntegrityError) as refused,
                trail.recorded("tests", "an attempt to break a rule"),
            ):
                attempt(lab)
            assert f'"{name}"' in str(refused.value)


NO_RECORDS = {
    AnsweredRequest,
    Link,
}  # the one is forgotten after some days, the other the database's own (test_attacks_on_the_trail)
TRACKED = [
    m
    for m in apps.get_app_config("labrecords").get_models()
    if not hasattr(m, "pgh_tracked_model") and m not in NO_RECORDS
]


def test_no_record_can_be_deleted(lab, subtests):
    """Every record's table carries the trigger; where there is a row, the raw delete is refused."""
    for model in TRACKED:
        with subtests.test(model.__name__):
            assert "never_deleted" in {trigger.name for trigger in model._meta.triggers}
            if not model.objects.exists():
                continue
            with (
                pytest.raises(DatabaseError, match="Cannot delete"),
                trail.recorded("tests", "an attempt to delete"),
            ):
                model.objects.all()._raw_delete("default")


def test_frozen_rows_refuse_every_change(lab, subtests):
    # A qualification needs its own rows: test_issued_qualification_refuses_every_change.
    frozen = [m for m in TRACKED if m is not Qualification and "frozen" in {t.name for t in m._meta.triggers}]
    assert len(frozen) > 5
    for model in frozen:
        with subtests.test(model.__name__):
            assert model.objects.exists()
            with pytest.raises(DatabaseError, match="Cannot update"), trail.recorded("tests", "an attempt"):
                model.objects.update(created_at=NOW)


def test_reading_is_never_overwritten(lab, subtests):
    other = {
        "value": 9.9,
        "qualifier": "not_moved",
        "drop": 9,
        "position": "Z",
        "quantity": "static_angle",
        "typed": "9.9",
        "created_at": NOW,
        "direction": "across",
        "reason": "none",
    }
    for field, value in other.items():
        with (
            subtests.test(field),
            pytest.raises(DatabaseError, match="Cannot update"),
            trail.recorded("tests", "an attempt"),
        ):
            Reading.objects.update(**{field: value})


@pytest.mark.parametrize("state", ["consumed", "discarded", "lost"])
def test_closed_coupon_takes_no_reading_even_by_sql(state, lab):
    coupons.move(by=lab.by, why="used up", coupon=lab.coupon, state=state)
    with pytest.raises(DatabaseError, match="takes no new readings"), trail.recorded("tests", "an attempt"):
        reading()(lab)


def test_reviewed_run_takes_no_reading_and_no_change_even_by_sql(lab):
    runs.complete(by=lab.by, run=lab.run)
    runs.review(by=lab.other, run=lab.run)
    with pytest.raises(DatabaseError, match="takes no new readings"), trail.recorded("tests", "an attempt"):
        reading()(lab)
    with pytest.raises(DatabaseError, match="Cannot update"), trail.recorded("tests", "an attempt"):
        TestRun.objects.update(remark="better so")
    # Only a lifted review gets past, and it is gone then.
    with pytest.raises(DatabaseError, match="testrun_reviewed_by_and_at"), trail.recorded("tests", "an attempt"):
        TestRun.objects.update(state="draft", completed_by=None, completed_at=None)


def test_correction_with_the_reason_of_an_entry_is_refused_even_by_sql(lab):
    with trail.recorded("tests", "a row to correct"):
        Reading.objects.filter(pk=lab.reading.pk).update(is_current=False)
    corrected = reading(drop=lab.reading.drop, replaces=of("reading"))
    with pytest.raises(DatabaseError, match="needs its own reason"), trail.recorded("tests", "readings entered"):
        corrected(lab)
    with trail.recorded("tests", "misread the scale"):
        corrected(lab)
    with trail.recorded("tests", "readings entered"):
        reading(drop=8)(lab)  # a new value needs no other


def test_attachment_is_never_overwritten_and_stays_withdrawn(lab, subtests):
    for field, value in {"name": "other.txt", "note": "other", "run": lab.run.pk, "created_at": NOW}.items():
        with (
            subtests.test(field),
            pytest.raises(DatabaseError, match="Cannot update"),
            trail.recorded("tests", "an attempt"),
        ):
            Attachment.objects.update(**{field: value})
    attachments.withdraw(by=lab.by, why="of another coupon", attachment=lab.attachment)
    with pytest.raises(DatabaseError, match="Cannot update"), trail.recorded("tests", "an attempt"):
        Attachment.objects.update(withdrawn_by=None, withdrawn_because="")


def test_issued_qualification_refuses_every_change(lab):
    runs.complete(by=lab.by, run=lab.run)
    issue_report(lab.batch, make_criteria(lab.by), approver=lab.by, render=lambda evidence: b"%PDF-x")
    with pytest.raises(DatabaseError, match="Cannot update"), trail.recorded("tests", "an attempt"):
        Qualification.objects.update(verdict="pass")


def test_every_foreign_key_protects_what_it_points_to():
    loose = [
        f"{model.__name__}.{field.name}"
        for model in TRACKED
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey) and field.remote_field.on_delete is not models.PROTECT
    ]
    assert loose == []


def test_rows_that_are_needed_can_be_made(lab):
    """The breakers fail for their own reason: the same rows with possible values are taken."""
    with trail.recorded("tests", "possible values"), transaction.atomic():
        reading()(lab)
        run_row()(lab)
        criterion_set = make_criteria(lab.by)
        prop()(lab)
    assert criterion_set.criteria.count() == 1
    assert make_instrument(lab.by).calibrations.count() == 1
    assert make_liquid_lot(lab.by).liquid.properties.count() == 2
    assert make_method_version(lab.by, "static_angle").number == 1
    batches.join(
        by=lab.by,
        why="a control",
        batch=lab.batch,
        coupon=coupons.log(by=lab.by, lot=lab.lot)[0],
        role="control",
    )
