"""The rule of every address: which verb opens it, which verb its POST calls, which row it names, what a POST says.

A new address needs one line here; without it `test_every_address_has_a_rule` fails with its name:

    "gadgets/{}/repair/": Rule("gadgets.look", posts="gadgets.repair", row=["gadget"], body=lambda its: {…}),

`row` names what fills the braces, in order, as `access_world.names_of` calls it (and GUESSES, OF_PROJECTS).
`body` makes a POST that is accepted from somebody who may; `its` is one side of the world: every row the body names
should come from `its`, so that the matrix can offer another project's instead.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from django_otp.oath import TOTP

from labrecords.actions import coupons
from tests.factories import PASSWORD, SETTINGS
from tests.labrecords.access_world import FACTOR, OPEN, OTHERS, OWN

NOON = "2026-03-02T12:00Z"
DRYING = [{"kind": "dry", "planned": {"way": {"text": "nitrogen"}}}]
TYPED_DRYING = {"do": "save", "step": ["1"], "step-1-kind": "dry", "step-1-value_way": "nitrogen"}
CRITERION = {"label": "C1", "kind": "mean_interval", "quantity": "sliding_angle", "limit": 10}
TYPED_CRITERION = {"rows": "1"} | {f"c0-{name}": str(value) for name, value in CRITERION.items()}
SPECIFIED = {"fixed_on": "2026-01-01", "when_inconclusive": "six further coupons"}
VERSION = SETTINGS["sliding_angle"]
WHY = {"why": "it must be"}
CHECKED = {"checked": "12 passed", "place": "folder 1", "authorised_because": "first use"}
SHEET = {"material": "New", "hazards": ["solvent"], "place": "folder 9", "revised_on": "2026-01-05"}


@dataclass(frozen=True)
class Rule:
    look: str | tuple = ()  # the verb that opens it, and what it asks for beside
    posts: str = ""  # the verb that a POST calls; none: a POST is not offered (API) or changes nothing (pages)
    row: list = field(default_factory=list)
    body: Callable = lambda its: {}
    gets: bool = True
    fits: tuple = (OWN, OPEN, OTHERS)  # sides whose state takes the POST: a draft is not reviewed
    fixed: dict = field(default_factory=dict)  # {who or "*": statuses}: answered so whatever the method and the row
    query: Callable = lambda names: {}
    kind: str = ""  # of the body, where it is neither JSON nor a form
    is_of_lab: bool = False  # the row it names belongs to the lab as a whole
    is_of_person: bool = False  # … or to one person, and is nobody else's business
    kept_from: tuple = ()  # roles that see none of these rows, whoever's they are
    is_untracked: bool = False  # what its POST stores leaves no line in the trail

    @property
    def looks(self):
        return [self.look] if isinstance(self.look, str) else [*self.look] or [""]


def _now(names):
    return {"on": f"{timezone.now():%Y-%m-%dT%H:%M:%SZ}"}


def of_lab(look, **more):
    return Rule(look, is_of_lab=True, **more)


def _listed(noun, posts="", body=lambda its: {}):
    return Rule(f"{noun}.look", posts=posts, body=body)


def _rows(prefix, noun, row, *, posts="", body=lambda its: {}, **one):
    """What the API has for every noun: list with create, one row, its history, and how it was at a moment."""
    one["row"] = [row]
    return {
        f"api/{prefix}/": _listed(noun, posts, body),
        f"api/{prefix}/{{}}/": Rule(f"{noun}.look", **one),
        f"api/{prefix}/{{}}/history/": Rule((f"{noun}.look", "history.look"), **one),
        f"api/{prefix}/{{}}/as-of/": Rule((f"{noun}.look", "history.look"), query=_now, **one),
    }


def _verb(noun, verb, row, body, **more):
    return Rule(f"{noun}.look", posts=verb, row=row, body=body, gets=False, **more)


def _declared(prefix, row):
    return {
        f"api/{prefix}/": Rule("declarations.look"),
        f"api/{prefix}/{{}}/": of_lab("declarations.look", row=[row]),
    }


def _run_of(its):
    return {
        "liquid_lot": its.lab.liquid_lot.code, "drop_volume_ul": 10, "instrument": its.lab.rig.code,
        "room_temperature_c": 23, "room_humidity_pct": 50, "coupon": its.coupon.code, "method": "sliding_angle",
        "observed_at": NOON,
    }  # fmt: skip


def _csv(its):
    return (
        "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier\n"
        f"NEW-RUN,{its.coupon.code},sliding_angle,{its.lab.liquid_lot.code},10,0,1,1,sliding_angle,3.5,measured\n"
    ).encode()


CALIBRATED = {"done_on": "2026-02-02", "due_on": "2027-01-01", "result": "ok"}
NEW_PERSON = {"username": "newcomer", "full_name": "New Comer", "role": "operator", "password": PASSWORD}
LAB = {"name": "Invented Surface Lab", "address": "2 Example Lane", "site": "TS"} | WHY
PROVEN = {"password": PASSWORD}
NEW_PASSWORD = PROVEN | {"new_password": "tilted-stage-41-mm"}
NEW_TOKEN = PROVEN | {"name": "balance", "scope": "read", "days": "5"}
DOUBTED = {"in_doubt_from": "2026-02-01"} | WHY
SIGNED_OUT_FREE = {"*": {200, 302, 400, 401, 403, 405}}


def _file(its):
    return {"file": SimpleUploadedFile("note.txt", b"dropped on the floor"), "note": "read it"}


def _code(its):
    """Of the second factor that waits for it."""
    return {"code": f"{TOTP(bytes.fromhex(FACTOR)).token():06d}"}


def _seen(state, said):
    """What a step of an assessment in this state says: the version that was looked at, and what it asks for."""
    return lambda its: {"version": its.on_way[state].version} | said


# Verb of a step: (the state that it starts from, what it says)
STEPS = {
    "complete": ("draft", PROVEN), "review": ("complete", PROVEN), "approve": ("reviewed", PROVEN),
    "issue": ("approved", {}), "prepare_again": ("reviewed", WHY), "withdraw": ("approved", WHY),
}  # fmt: skip


def _steps(prefix):
    return {
        f"{prefix}/{{}}/{name.replace('_', '-')}/": Rule(
            "assessments.look", posts=f"assessments.{name}", row=[f"{state}_assessment"], gets=False,
            body=_seen(state, said),
        )
        for name, (state, said) in STEPS.items()
    }  # fmt: skip


def _about_person(verb, body=lambda its: WHY, **more):
    return _verb("people", f"people.{verb}", ["username"], body, is_of_lab=True, **more)


def _own(verb, body=lambda its: {}, gets=False, **more):
    return Rule("account.look", posts=f"account.{verb}", body=body, gets=gets, **more)


API = {
    "api/sign-in/": Rule(fixed=SIGNED_OUT_FREE),
    "api/sign-out/": Rule(fixed={"*": {401, 403, 405, 500}, "stranger": {401}}),
    "api/schema/": Rule(fixed={"*": {200, 405}}),
    "api/": Rule(fixed={"*": {404}}),
    "api/{}": Rule(row=["anything"], fixed={"*": {404}}),
    "api/laboratory/": Rule("laboratory.look", posts="laboratory.set_up", body=lambda its: LAB),
    **_declared("methods", "method"), **_declared("exposures", "exposure"), **_declared("step-kinds", "step_kind"),
    **_declared("criterion-kinds", "criterion_kind"), **_declared("quantities", "quantity"),
    **_rows("people", "people", "username", posts="people.add", body=lambda its: NEW_PERSON, is_of_lab=True),
    "api/people/{}/disable/": _about_person("disable"),
    "api/people/{}/change-role/": _about_person("change_role", lambda its: {"role": "developer"} | WHY),
    "api/people/{}/end-sessions/": _about_person("end_sessions"),
    "api/people/{}/lift-block/": _about_person("lift_block", is_untracked=True),
    "api/people/{}/reset-second-factor/": _about_person("reset_second_factor"),
    "api/people/{}/start-password/": _about_person("set_start_password"),
    "api/account/": Rule("account.look"),
    "api/account/password/": _own("change_password", lambda its: NEW_PASSWORD),
    "api/account/end-other-sessions/": _own("end_other_sessions"),
    "api/account/second-factor/start/": _own("start_second_factor", lambda its: PROVEN, is_untracked=True),
    "api/account/second-factor/confirm/": _own("confirm_second_factor", _code),
    "api/account/second-factor/end/": _own("end_second_factor", lambda its: PROVEN | WHY, is_untracked=True),
    **_rows("tokens", "account", "token", posts="account.issue_token", body=lambda its: NEW_TOKEN, is_of_person=True),
    "api/tokens/{}/revoke/": _own("revoke_token", row=["token"], is_of_person=True),
    "api/health/": Rule("health.look"),
    "api/history/": Rule("history.look", query=lambda names: {"since": "2020-01-01T00:00Z", "limit": "1000"}),
    "api/history/{}/{}/": Rule("history.look", row=["noun", "coupon"], kept_from=("administrator",)),
    "api/history/{}/{}/as-of/": Rule("history.look", row=["noun", "coupon"], kept_from=("administrator",), query=_now),
    **_rows("projects", "projects", "project", posts="projects.start",
            body=lambda its: {"code": "NEW", "title": "New"}),
    "api/projects/{}/admit/": _verb("projects", "projects.admit", ["project"],
                                    lambda its: {"person": its.guest.username}),
    "api/projects/{}/dismiss/": _verb("projects", "projects.dismiss", ["project"],
                                      lambda its: {"person": its.spare.username} | WHY),
    "api/projects/{}/restrict/": _verb("projects", "projects.restrict", ["project"], lambda its: WHY, fits=(OPEN,)),
    "api/projects/{}/open/": _verb("projects", "projects.open_up", ["project"], lambda its: WHY, fits=(OWN, OTHERS)),
    **_rows("materials", "materials", "lot", posts="materials.log_lot", is_of_lab=True,
            body=lambda its: {"code": "NEW", "material": "Aluminium", "form": "sheet"}),
    **_rows("coupons", "coupons", "coupon", posts="coupons.log",
            body=lambda its: {"lot": its.bench.lot.code, "project": its.project.code}),
    "api/coupons/{}/amend/": _verb("coupons", "coupons.amend", ["coupon"], lambda its: {"place": "shelf"} | WHY),
    "api/coupons/{}/move/": _verb("coupons", "coupons.move", ["coupon"], lambda its: {"state": "retained"} | WHY),
    "api/coupons/{}/split/": _verb("coupons", "coupons.split", ["coupon"], lambda its: {"pieces": [{"mark": "a"}]}),
    **_rows("recipes", "recipes", "recipe", posts="recipes.create",
            body=lambda its: {"code": "NEW", "title": "New", "steps": DRYING, "project": its.project.code}),
    "api/recipes/{}/revise/": _verb("recipes", "recipes.revise", ["recipe"], lambda its: {"steps": DRYING} | WHY),
    **_rows("batches", "batches", "batch", posts="batches.form",
            body=lambda its: {"code": "NEW", "recipe": its.recipe.code, "lot": its.bench.lot.code,
                              "treated": [its.coupon.code], "project": its.project.code}),
    "api/batches/{}/amend/": _verb("batches", "batches.amend", ["bench"], lambda its: {"sampling": "each third"} | WHY),
    "api/batches/{}/join/": _verb("batches", "batches.join", ["bench"],
                                  lambda its: {"coupon": its.coupon.code, "role": "treated"} | WHY),
    "api/batches/{}/results/": Rule("batches.look", row=["batch"]),
    "api/batches/{}/explanations/": Rule("batches.look", row=["batch"]),
    **_rows("processing", "processing", "process", posts="processing.record",
            body=lambda its: {"batch": its.bench.code, "step": 2, "coupons": [{"coupon": its.on_bench.code}],
                              "started_at": NOON}),
    "api/processing/{}/finish/": _verb("processing", "processing.finish", ["process"],
                                        lambda its: {"finished_at": NOON}),
    **_rows("deviations", "processing", "deviation", posts="processing.note_deviation",
            body=lambda its: {"batch": its.bench.code, "what": "late", "reason": "fire drill",
                              "process": its.process.pk}),
    **_rows("liquids", "liquids", "liquid", posts="liquids.create", is_of_lab=True,
            body=lambda its: {"code": "NEW", "name": "New"}),
    **_rows("liquid-lots", "liquids", "liquid_lot", posts="liquids.log_lot", is_of_lab=True,
            body=lambda its: {"code": "NEW", "liquid": its.lab.liquid.code, "prepared_on": "2026-01-05"}),
    **_rows("lubricants", "liquids", "lubricant", posts="liquids.create_lubricant", is_of_lab=True,
            body=lambda its: {"code": "NEW", "name": "New"}),
    **_rows("lubricant-lots", "liquids", "lubricant_lot", posts="liquids.log_lubricant_lot", is_of_lab=True,
            body=lambda its: {"code": "NEW", "lubricant": its.lab.lubricant.code, "prepared_on": "2026-01-05"}),
    **_rows("bath-lots", "liquids", "bath", posts="liquids.log_bath_lot", is_of_lab=True,
            body=lambda its: {"code": "NEW", "title": "New", "prepared_on": "2026-01-05"}),
    **_rows("properties", "liquids", "property", posts="liquids.add_property",
            body=lambda its: {"recipe": its.recipe.code, "quantity": "roughness_factor", "value": 2, "source": "read"}),
    **_rows("instruments", "instruments", "rig", posts="instruments.create", is_of_lab=True,
            body=lambda its: {"code": "NEW", "title": "New"}),
    "api/instruments/{}/calibrate/": _verb("instruments", "instruments.calibrate", ["rig"], is_of_lab=True,
                                           body=lambda its: CALIBRATED),
    "api/instruments/{}/withdraw/": _verb("instruments", "instruments.withdraw", ["rig"], lambda its: DOUBTED,
                                          is_of_lab=True),
    "api/instruments/{}/put_back/": _verb("instruments", "instruments.put_back", ["doubted"], lambda its: WHY,
                                          is_of_lab=True),
    "api/instruments/{}/affected/": of_lab("instruments.look", row=["doubted"]),
    **_rows("data-sheets", "data_sheets", "sheet", posts="data_sheets.record", is_of_lab=True,
            body=lambda its: SHEET),
    "api/data-sheets/{}/withdraw/": _verb("data_sheets", "data_sheets.withdraw", ["sheet"], lambda its: WHY,
                                          is_of_lab=True),
    **_rows("releases", "releases", "release", posts="releases.put_to_use", is_of_lab=True,
            body=lambda its: CHECKED),
    **_rows("method-versions", "methods", "version", posts="methods.fix_version", is_of_lab=True,
            body=lambda its: {"method": "sliding_angle", "settings": VERSION}),
    **_rows("runs", "runs", "draft", posts="runs.enter", body=_run_of),
    "api/runs/{}/complete/": _verb("runs", "runs.complete", ["draft"], lambda its: {}),
    "api/runs/{}/readings/": _verb("runs", "runs.record", ["draft"],
                                   lambda its: {"version": its.draft.version,
                                                "readings": [{"quantity": "sliding_angle", "drop": 9, "value": "5"}]}),
    "api/runs/{}/lift-review/": _verb("runs", "runs.lift_review", ["locked"], lambda its: WHY),
    "api/runs/{}/reopen/": _verb("runs", "runs.reopen", ["complete"], lambda its: WHY),
    "api/runs/{}/review/": _verb("runs", "runs.review", ["complete"], lambda its: {}),
    "api/runs/{}/results/": Rule("runs.look", row=["complete"]),
    "api/runs/{}/explanations/": Rule("runs.look", row=["complete"]),
    "api/readings/": Rule("runs.look"),
    "api/readings/{}/": Rule("runs.look", row=["reading"]),
    "api/readings/{}/history/": Rule(("runs.look", "history.look"), row=["reading"]),
    "api/readings/{}/as-of/": Rule(("runs.look", "history.look"), row=["reading"], query=_now),
    "api/readings/{}/exclude/": _verb("runs", "runs.exclude", ["reading"], lambda its: WHY),
    "api/readings/{}/include/": _verb("runs", "runs.include", ["excluded"], lambda its: WHY),
    "api/readings/import/": Rule("runs.look", posts="runs.record", body=_csv, kind="text/csv", gets=False),
    **_rows("specifications", "criteria", "specification", posts="criteria.create",
            body=lambda its: {"code": "NEW", "title": "New", "criteria": [CRITERION], "project": its.project.code}
            | SPECIFIED),
    "api/specifications/{}/revise/": _verb("criteria", "criteria.revise", ["specification"],
                                           lambda its: {"criteria": [CRITERION]} | SPECIFIED | WHY),
    **_rows("assessments", "assessments", "draft_assessment", posts="assessments.prepare",
            body=lambda its: {"batch": its.batch.code, "criteria": its.specification.criterion_set.code}),
    **_steps("api/assessments"),
    "api/assessments/{}/draft/": Rule("assessments.look", row=["complete_assessment"]),
    **_rows("attachments", "attachments", "attachment"),
    "api/attachments/": Rule("attachments.look", posts="attachments.add", kind="multipart",
                             body=lambda its: {"coupon": its.coupon.code} | _file(its)),
    "api/attachments/{}/withdraw/": _verb("attachments", "attachments.withdraw", ["attachment"], lambda its: WHY),
    "api/attachments/{}/file/": Rule("attachments.look", row=["attachment"]),
    **_rows("qualifications", "qualifications", "report"),
    "api/qualifications/{}/file/": Rule("qualifications.look", row=["report"]),
}  # fmt: skip


def _amended(its):
    stored = {name: getattr(its.coupon, name) for name in coupons.AMENDABLE}
    return {name: value for name, value in stored.items() if value is not None} | {
        "project": its.project.pk, "place": "shelf"} | WHY  # fmt: skip


def _typed_run(its):
    return {
        "coupons": its.coupon.code, "method_version": its.lab.version.pk, "liquid_lot": its.lab.liquid_lot.pk,
        "dose": "0", "drop_volume_ul": "10", "instrument": its.lab.rig.pk, "room_temperature_c": "23",
        "room_humidity_pct": "50", "observed_at": "2026-03-02T12:00",
    }  # fmt: skip


PAGES = {
    "sign-in/": Rule(fixed=SIGNED_OUT_FREE),
    "sign-out/": Rule(fixed={"*": {302, 405}}),
    "": Rule(fixed={"*": {200}, "stranger": {302}, "customer": {302}, "administrator": {302}}),
    "coupons/": Rule("coupons.look"),
    "coupons/log/": Rule("coupons.look", posts="coupons.log",
                         body=lambda its: {"lot": its.bench.lot.pk, "project": its.project.pk, "count": "1"}),
    "coupons/{}/": Rule("coupons.look", row=["coupon"]),
    "coupons/{}/split/": Rule("coupons.look", posts="coupons.split", row=["coupon"],
                              body=lambda its: {"pieces": "1", "do": "split", "piece-1-mark": "a"}),
    "coupons/{}/move/": Rule("coupons.look", posts="coupons.move", row=["coupon"],
                             body=lambda its: {"state": "retained"} | WHY),
    "coupons/{}/amend/": Rule("coupons.look", posts="coupons.amend", row=["coupon"], body=_amended),
    "materials/": Rule("materials.look"),
    "materials/log/": Rule("materials.look", posts="materials.log_lot",
                           body=lambda its: {"code": "NEW", "material": "Aluminium", "form": "sheet"}),
    "liquids/": Rule("liquids.look"),
    "liquids/add/{}/": of_lab("liquids.look", posts="liquids.create", row=["shelf"],
                              body=lambda its: {"code": "NEW", "name": "New"}),
    "liquids/property/{}/{}/": Rule("liquids.look", posts="liquids.add_property", row=["owner", "recipe"],
                                    body=lambda its: {"quantity": "roughness_factor", "value": "2", "source": "read"}),
    "releases/": Rule("releases.look"),
    "releases/add/": Rule("releases.look", posts="releases.put_to_use", body=lambda its: CHECKED),
    "data-sheets/": Rule("data_sheets.look"),
    "data-sheets/add/": Rule("data_sheets.look", posts="data_sheets.record", body=lambda its: SHEET),
    "data-sheets/{}/withdraw/": of_lab("data_sheets.look", posts="data_sheets.withdraw", row=["sheet"],
                                       body=lambda its: WHY),
    "instruments/": Rule("instruments.look"),
    "instruments/add/": Rule("instruments.look", posts="instruments.create",
                             body=lambda its: {"code": "NEW", "title": "New"}),
    "instruments/{}/calibrate/": of_lab("instruments.look", posts="instruments.calibrate", row=["rig"],
                                        body=lambda its: CALIBRATED),
    "lab/": Rule("laboratory.look"),
    "lab/set-up/": Rule("laboratory.look", posts="laboratory.set_up",
                        body=lambda its: LAB | {"coupon_scheme": "{site}-{year:02d}-{number:04d}"}),
    "lab/projects/start/": Rule("laboratory.look", posts="projects.start",
                                body=lambda its: {"code": "NEW", "title": "New"}),
    "instruments/{}/withdraw/": of_lab("instruments.look", posts="instruments.withdraw", row=["rig"],
                                       body=lambda its: DOUBTED),
    "instruments/{}/put-back/": of_lab("instruments.look", posts="instruments.put_back", row=["doubted"],
                                       body=lambda its: WHY),
    "instruments/{}/affected/": of_lab("instruments.look", row=["doubted"]),
    "people/": Rule("people.look"),
    "people/add/": Rule("people.look", posts="people.add", body=lambda its: NEW_PERSON),
    "people/log/": Rule(("people.look", "people.read_log")),
    "people/{}/": of_lab("people.look", row=["person"]),
    "people/{}/disable/": of_lab("people.look", posts="people.disable", row=["person"], body=lambda its: WHY),
    "people/{}/start-password/": of_lab("people.look", posts="people.set_start_password", row=["person"],
                                        body=lambda its: WHY),
    "people/{}/{}/": of_lab("people.look", posts="people.change_role", row=["person", "person_verb"],
                            body=lambda its: {"role": "developer"} | WHY),
    "account/": Rule("account.look"),
    "account/password/": _own("change_password", lambda its: NEW_PASSWORD | {"again": NEW_PASSWORD["new_password"]},
                              gets=True),
    "account/end-other-sessions/": _own("end_other_sessions"),
    "account/tokens/issue/": _own("issue_token", lambda its: NEW_TOKEN, gets=True),
    "account/tokens/{}/revoke/": _own("revoke_token", row=["token"], is_of_person=True),
    "account/second-factor/start/": _own("start_second_factor", lambda its: PROVEN, gets=True, is_untracked=True),
    "account/second-factor/confirm/": _own("confirm_second_factor", _code, gets=True),
    "account/second-factor/end/": _own("end_second_factor", lambda its: PROVEN | WHY, gets=True, is_untracked=True),
    "health/": Rule("health.look"),
    "changes/": Rule("journal.look"),
    "changes/file/": Rule("journal.look"),
    "history/{}/{}/": Rule("history.look", row=["noun", "coupon"], kept_from=("administrator",), query=_now),
    "copies/{}/{}/": Rule("history.look", row=["noun", "coupon"], kept_from=("administrator",)),
    "files/{}/{}/": Rule("attachments.look", posts="attachments.add", row=["noun", "coupon"], body=_file),
    "attachments/{}/": Rule("attachments.look", row=["attachment"]),
    "attachments/{}/withdraw/": Rule("attachments.look", posts="attachments.withdraw", row=["attachment"], gets=False,
                                     body=lambda its: WHY),
    "assessments/{}/": Rule("assessments.look", row=["draft_assessment"]),
    "assessments/{}/draft/": Rule("assessments.look", row=["complete_assessment"]),
    **_steps("assessments"),
    "projects/{}/": Rule("projects.look", row=["project"]),
    "projects/{}/admit/": Rule("projects.look", posts="projects.admit", row=["project"],
                               body=lambda its: {"person": its.guest.pk}),
    "projects/{}/dismiss/{}/": Rule("projects.look", posts="projects.dismiss", row=["project", "member"],
                                    body=lambda its: WHY),
    "projects/{}/members-only/": Rule("projects.look", posts="projects.restrict", row=["project"], body=lambda its: WHY,
                                      fits=(OPEN,)),
    "projects/{}/open/": Rule("projects.look", posts="projects.open_up", row=["project"], body=lambda its: WHY,
                              fits=(OWN, OTHERS)),
    "recipes/": Rule("recipes.look"),
    "recipes/new/": Rule("recipes.look", posts="recipes.create",
                         body=lambda its: {"code": "NEW", "title": "New", "project": its.project.pk} | TYPED_DRYING),
    "recipes/{}/revise/": Rule("recipes.look", posts="recipes.revise", row=["recipe"],
                               body=lambda its: TYPED_DRYING | WHY),
    "recipes/{}/": Rule("recipes.look", row=["recipe"]),
    "batches/{}/step/{}/": Rule("processing.look", posts="processing.record", row=["bench", "order"],
                                body=lambda its: {"do": "start", f"coupon-{its.on_bench.pk}-is_in": "on"}),
    "batches/{}/step/{}/mark/{}/": Rule("processing.look", row=["bench", "order", "field"]),
    "runs/{}/save/": Rule("runs.look", posts="runs.record", row=["draft"], gets=False,
                          body=lambda its: {"version": its.draft.version, "row": ["0"], "position-0": "1",
                                            "drop-0": "9", "value-0-sliding_angle": "5"}),
    "readings/{}/exclude/": Rule("runs.look", posts="runs.exclude", row=["reading"], body=lambda its: WHY, gets=False),
    "readings/{}/include/": Rule("runs.look", posts="runs.include", row=["excluded"], body=lambda its: WHY, gets=False),
    "runs/": Rule("runs.look"),
    "runs/new/": Rule("runs.look", posts="runs.enter", body=_typed_run),
    "runs/{}/": Rule("runs.look", row=["draft"]),
    "runs/{}/complete/": Rule("runs.look", posts="runs.complete", row=["draft"], gets=False),
    "runs/{}/review/": Rule("runs.look", posts="runs.review", row=["complete"], gets=False),
    "runs/{}/lift-review/": Rule("runs.look", posts="runs.lift_review", row=["locked"], body=lambda its: WHY,
                                 gets=False),
    "runs/{}/reopen/": Rule("runs.look", posts="runs.reopen", row=["complete"], body=lambda its: WHY, gets=False),
    "batches/": Rule("batches.look"),
    "batches/new/": Rule("batches.look", posts="batches.form",
                         body=lambda its: {"code": "NEW", "recipe_revision": its.revision.pk, "lot": its.bench.lot.pk,
                                           "project": its.project.pk, "treated": its.coupon.code}),
    "batches/{}/": Rule("batches.look", row=["batch"]),
    "batches/{}/deviation/": Rule("batches.look", posts="processing.note_deviation", row=["batch"], gets=False,
                                  body=lambda its: {"what": "late", "reason": "fire drill"}),
    "batches/{}/amend/": Rule("batches.look", posts="batches.amend", row=["bench"],
                              body=lambda its: {"title": its.bench.title, "sampling": "each third"} | WHY),
    "batches/{}/join/": Rule("batches.look", posts="batches.join", row=["bench"], gets=False,
                             body=lambda its: {"coupon": its.coupon.code, "role": "treated"} | WHY),
    "specifications/": Rule("criteria.look"),
    "specifications/new/": Rule("criteria.look", posts="criteria.create",
                                body=lambda its: {"code": "NEW", "title": "New", "project": its.project.pk}
                                | SPECIFIED | TYPED_CRITERION),
    "specifications/{}/": Rule("criteria.look", row=["specification"]),
    "specifications/{}/revise/": Rule("criteria.look", posts="criteria.revise", row=["specification"],
                                      body=lambda its: SPECIFIED | TYPED_CRITERION | WHY),
    "methods/": Rule("methods.look"),
    "methods/{}/new-version/": of_lab("methods.look", posts="methods.fix_version", row=["method"],
                                      body=lambda its: VERSION),
    "batches/{}/qualify/": Rule("batches.look", posts="assessments.prepare", row=["batch"],
                                body=lambda its: {"specification": its.specification.pk}),
    "qualifications/": Rule("qualifications.look"),
    "qualifications/{}/": Rule("qualifications.look", row=["report"]),
    "qualifications/{}/file/": Rule("qualifications.look", row=["report"]),
    "runs/{}/why/{}/": Rule("explanations.look", row=["complete", "statistic"]),
    "batches/{}/why/{}/": Rule("explanations.look", row=["batch", "batch_statistic"],
                               query=lambda names: {"group": names["group"]}),
    "qualifications/{}/why/{}/": Rule("explanations.look", row=["report", "outcome"]),
}  # fmt: skip

RULES = API | PAGES
