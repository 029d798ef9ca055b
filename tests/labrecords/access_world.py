"""What the access matrix is run over: the same records in a project of one's own, of others, and open to the lab.

Every record of the others' project carries a word that no answer to anybody else may hold.
"""

from datetime import date
from types import SimpleNamespace

from django.db.models import Max
from django_otp.plugins.otp_totp.models import TOTPDevice

import analysis
from labrecords import access, history, trail
from labrecords.actions import (
    account,
    analyses,
    assessments,
    attachments,
    coupons,
    data_sheets,
    instruments,
    liquids,
    processing,
    projects,
    releases,
    runs,
)
from labrecords.models import Reading, TestRun
from tests.factories import (
    PASSWORD,
    issue_report,
    make_batch,
    make_instrument,
    make_lab,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_recipe,
    make_run,
    make_shedding_criteria,
    make_tested_batch,
    sign,
    sliding,
)

OWN, OPEN, OTHERS, GUESSED = "own", "open", "of others", "guessed"
SECRET = "zebrafish"
STRANGER = "stranger"  # nobody who has signed in
FACTOR = "31323334353637383930" * 2  # the secret of a second factor that waits for its first code
# The last signature of an assessment that has come this far.
WAY = {"draft": "", "complete": "complete", "reviewed": "review", "approved": "approve"}
GUESSES = {
    "coupon": coupons.with_check_character("TS-26-9999"), "project": "P-GUESSED", "recipe": "RECIPE-GUESSED",
    "batch": "B-GUESSED",
    "bench": "B-GUESSED", "draft": "R-99-99999", "complete": "R-99-99999", "locked": "R-99-99999",
    "specification": "SPEC-GUESSED",
    "report": "QR-99-9999", "reading": "999999999", "excluded": "999999999", "process": "999999999",
    "deviation": "999999999", "property": "999999999", "username": "guessed", "person": "999999999",
    "member": "999999999", "lot": "SHEET-GUESSED", "liquid": "LIQUID-GUESSED", "liquid_lot": "LOT-GUESSED",
    "lubricant": "LUBE-GUESSED", "lubricant_lot": "LUBELOT-GUESSED", "bath": "BATH-GUESSED", "rig": "RIG-GUESSED",
    "version": "999999999", "liquid_property": "999999999", "order": "99", "shelf": "guessed", "owner": "guessed",
    "method": "guessed", "exposure": "guessed", "step_kind": "guessed", "criterion_kind": "guessed",
    "quantity": "guessed", "field": "guessed", "statistic": "guessed", "outcome": "guessed", "anything": "guessed",
    "batch_statistic": "guessed", "draft_assessment": "999999999", "complete_assessment": "999999999",
    "reviewed_assessment": "999999999", "approved_assessment": "999999999", "attachment": "999999999",
    "token": "999999999", "doubted": "RIG-GUESSED", "noun": "guessed", "person_verb": "guessed",
    "sheet": "999999999", "release": "999999999",
}  # fmt: skip


# Of these the ones that belong to a project or a person; what else an address holds says what is wanted of them.
OF_PROJECTS = (
    "coupon", "project", "recipe", "batch", "bench", "draft", "complete", "locked", "specification", "report",
    "reading", "excluded", "process", "deviation", "property", "draft_assessment", "complete_assessment",
    "reviewed_assessment", "approved_assessment", "attachment", "token",
)  # fmt: skip


def build():
    """Cast, shared goods of the lab, and the three sides."""
    keeper = make_person("quality", "keeper", "Keeper of it all")
    make_lab(keeper)
    cast = {role: make_person(role, f"cast-{role}", f"Cast {role}") for role in access.ROLES}
    spare = make_person("customer", "spare", "Spare customer")
    with trail.recorded("tests", "turned on"):
        spare.has_second_factor = True
        spare.save()
    guest = make_person("operator", "guest", "Guest of the lab")
    lab = _lab(keeper)
    shared = (keeper, make_person("quality", "second", "Second of quality"), lab, spare, guest)
    sides = {
        OWN: _bounded(*shared, "OWN", "plain"),
        OPEN: _bounded(*shared, "OPEN", "plain"),
        OTHERS: _bounded(*shared, "OTHERS", SECRET),
    }
    _tie(keeper, sides[OTHERS], sides[OPEN])
    lab.doubted = instruments.withdraw(
        by=keeper, why="dropped", instrument=sides[OTHERS].complete.instrument, in_doubt_from="2026-01-01"
    )
    for side in (sides[OWN], sides[OTHERS]):
        side.project = projects.restrict(by=keeper, why="the customer asks", project=side.project)
    for role, person in cast.items():
        if access.SEES[role] != access.EVERY:
            projects.admit(by=keeper, project=sides[OWN].project, person=person)
    tokens = {role: _token(person) for role, person in cast.items()}
    for person in cast.values():
        TOTPDevice.objects.create(user=person, name="waiting", key=FACTOR, confirmed=False)
    return SimpleNamespace(
        keeper=keeper, cast=cast, spare=spare, lab=lab, sides=sides, secrets=_secrets(sides[OTHERS]),
        token=_token(keeper), tokens=tokens, guest=guest,
    )  # fmt: skip


def _token(person):
    return account.issue_token(by=person, password=PASSWORD, name=f"of {person.username}")[0]


def _bounded(*shared):
    """A side, with the rows that were made for it: model -> (last number before, last number)."""
    before = _last_rows()
    side = _side(*shared)
    side.made = {model: (before[model] or 0, last or 0) for model, last in _last_rows().items()}
    return side


def _last_rows():
    return {model: model._base_manager.aggregate(last=Max("pk"))["last"] for model in history.nouns().values()}


def _tie(keeper, hidden, shown):
    """What the hidden side does with things of the other: a batch by its recipe, an assessment by its criteria."""
    batch = make_batch(
        keeper, 1, code=f"TIED-{SECRET}", title=SECRET, project=hidden.project, recipe_revision=shown.revision
    )
    processing.record(
        by=keeper, batch=batch, step=shown.revision.steps.get(order=1), coupons=[batch.members.get().coupon],
        started_at="2026-03-02T09:00Z", remark=SECRET,
    )  # fmt: skip
    hidden.tied = assessments.prepare(by=keeper, batch=hidden.batch, criterion_revision=shown.specification)


def _lab(keeper):
    liquid_lot = make_liquid_lot(keeper)
    lubricant = liquids.create_lubricant(by=keeper, code="LUBE", name="Oil")
    lubricant_lot = liquids.log_lubricant_lot(by=keeper, code="LUBELOT", lubricant=lubricant, prepared_on="2026-01-05")
    bath = liquids.log_bath_lot(by=keeper, code="BATH", title="Bath", prepared_on="2026-01-05")
    sheet = data_sheets.record(
        by=keeper, material="Solvent", hazards=["solvent"], place="folder 1", revised_on=date(2026, 1, 5)
    )
    release = releases.put_to_use(by=keeper, checked="12 passed", place="folder 1", authorised_because="first use")
    return SimpleNamespace(
        liquid_lot=liquid_lot, liquid=liquid_lot.liquid, lubricant=lubricant, lubricant_lot=lubricant_lot, bath=bath,
        rig=make_instrument(keeper), version=make_method_version(keeper),
        sheet=sheet, release=release,
    )  # fmt: skip


def _side(keeper, second, lab, spare, guest, code, word):
    """One project with one of everything."""
    project = projects.start(by=keeper, code=f"P-{code}-{word}", title=f"{word} project")
    projects.admit(by=keeper, project=project, person=spare)
    recipe = make_recipe(keeper, code=f"RECIPE-{code}-{word}", title=word, project=project)
    mine = {"project": project, "recipe_revision": recipe}
    batch = make_tested_batch(keeper, n=1, drops=3, code=f"B-{code}-{word}", control=False, title=word, **mine)
    specification = make_shedding_criteria(keeper, code=f"SPEC-{code}-{word}", title=word, project=project)
    report = issue_report(batch, specification, keeper, second, second)
    bench = make_batch(keeper, 1, code=f"BENCH-{code}-{word}", title=word, **mine)
    on_bench = bench.members.get().coupon
    process = processing.record(
        by=keeper, batch=bench, step=recipe.steps.get(order=1), coupons=[on_bench], started_at="2026-03-02T09:00Z",
        remark=word,
    )  # fmt: skip
    fields = {"project": project, "mark": f"M-{word}", "remark": word}
    coupon = coupons.log(by=keeper, lot=bench.lot, **fields)[0]
    tested = coupons.log(by=keeper, lot=bench.lot, **fields | {"mark": f"T-{word}"})[0]
    conditions = {"method_version": lab.version, "liquid_lot": lab.liquid_lot, "instrument": lab.rig, "remark": word}
    draft = make_run(keeper, coupon=tested, code=f"DRAFT-{code}-{word}", **conditions)
    runs.record(by=keeper, run=draft, readings=sliding([3.5, 4.5]))
    locked = make_run(keeper, coupon=tested, code=f"LOCKED-{code}-{word}", **conditions)
    runs.record(by=keeper, run=locked, readings=sliding([3.5, 4.5]))
    runs.complete(by=keeper, run=locked)
    runs.review(by=second, run=locked)
    complete = TestRun.objects.filter(coupon__memberships__batch=batch, method_version__method="sliding_angle").get()
    reading, excluded = draft.readings.order_by("drop")
    runs.exclude(by=keeper, reading=excluded, why=word)
    read = liquids.add_property(
        by=keeper, recipe=recipe.recipe, quantity="roughness_factor", value=1.5, source=word
    )  # fmt: skip
    deviation = processing.note_deviation(by=keeper, batch=batch, what=word, reason=word)
    on_way = {
        state: _assessment(keeper, second, batch, f"{state}-{code}-{word}", until) for state, until in WAY.items()
    }
    return SimpleNamespace(
        lab=lab, spare=spare, guest=guest, project=project, recipe=recipe.recipe, revision=recipe, batch=batch,
        bench=bench,
        on_bench=on_bench, process=process, coupon=coupon, draft=TestRun.objects.get(pk=draft.pk), complete=complete,
        locked=locked,
        reading=reading, excluded=Reading.objects.get(pk=excluded.pk), specification=specification, report=report,
        deviation=deviation, on_way=on_way,
        attachment=attachments.add(by=keeper, owner=coupon, name=f"{word}.txt", data=f"{word} {code}".encode()),
        property=read, step=process.step,
    )  # fmt: skip


def _assessment(keeper, second, batch, code, until):
    """An assessment of the batch that has come as far as the signature `until`."""
    specification = make_shedding_criteria(keeper, code=f"SPEC-{code}", project=batch.project)
    assessment = assessments.prepare(by=keeper, batch=batch, criterion_revision=specification)
    return sign(assessment, keeper, second, second, until=until) if until else assessment


def names_of(side, lab, spare):
    """What an address calls the rows of a side, and what belongs to the lab as a whole."""
    told = analysis.explain_batch(analyses.batch_records(side.batch))
    [(group, chains)] = [item for item in told.items() if "sliding" in item[0]]
    statistic = side.complete.analyses.get(is_current=True).content["statistics"][0]["key"]
    return {
        "coupon": side.coupon.code, "project": side.project.code, "recipe": side.recipe.code,
        "batch": side.batch.code, "bench": side.bench.code, "draft": side.draft.code, "complete": side.complete.code,
        "locked": side.locked.code,
        "specification": side.specification.criterion_set.code, "report": side.report.report_number,
        "reading": side.reading.pk, "excluded": side.excluded.pk, "process": side.process.pk,
        "deviation": side.deviation.pk, "property": side.property.pk, "username": spare.username, "person": spare.pk,
        "member": spare.pk, "lot": side.bench.lot.code, "liquid": lab.liquid.code, "liquid_lot": lab.liquid_lot.code,
        "lubricant": lab.lubricant.code, "lubricant_lot": lab.lubricant_lot.code, "bath": lab.bath.code,
        "rig": lab.rig.code, "version": lab.version.pk, "liquid_property": lab.liquid.properties.first().pk,
        "order": 2, "shelf": "liquids", "owner": "recipe", "method": "sliding_angle",
        "exposure": next(iter(analysis.EXPOSURES)),
        "step_kind": "dry", "criterion_kind": "mean_interval", "quantity": "sliding_angle", "field": "way",
        "statistic": statistic, "outcome": "C1", "anything": "guessed", "group": group,
        "batch_statistic": chains[0].key, "attachment": side.attachment.pk, "doubted": lab.doubted.code,
        "noun": "coupon", "person_verb": "role", "sheet": lab.sheet.pk,
        "release": lab.release.pk,
        **{f"{state}_assessment": row.pk for state, row in side.on_way.items()},
    }  # fmt: skip


def _secrets(side):
    """Words that belong to the others' project and to nothing else."""
    return [
        SECRET, side.coupon.code, side.on_bench.code, side.complete.code, side.report.report_number, side.batch.code,
        side.recipe.code, side.specification.criterion_set.code,
    ]  # fmt: skip
