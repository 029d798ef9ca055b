"""Projects: members, members-only, and what belongs together."""

import pytest
from django.db import DatabaseError, transaction
from rest_framework.test import APIClient

from labrecords import trail
from labrecords.actions import attachments, batches, coupons, criteria, processing, projects, runs
from labrecords.errors import NotAllowed, NotTied, ReasonMissing, UnknownCode, ValueRefused
from labrecords.models import Batch, Coupon, Project, ProjectMember, Qualification, TestRun
from labrecords.visibility import visible
from tests.factories import make_batch, make_coupon, make_criteria, make_lot, make_person, make_recipe, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper():
    return make_person("quality")


@pytest.fixture
def stranger():
    return make_person("developer")


@pytest.fixture
def project(keeper):
    return projects.start(by=keeper, code="P-1", title="Wings", members_only=True)


def test_who_starts_or_restricts_a_project_is_its_member(keeper, project):
    assert [row.person for row in project.members.all()] == [keeper]
    later = projects.start(by=keeper, code="P-2", title="Hulls")
    assert not later.members.exists()
    projects.restrict(by=keeper, why="the customer asks", project=later)
    assert [row.person for row in later.members.all()] == [keeper]


def test_rows_of_a_members_only_project_are_there_for_members_only(keeper, stranger, project):
    batch = make_batch(keeper, n=2, project=project)
    run = make_run(keeper, coupon=batch.members.first().coupon)
    for rows in (Coupon.objects.filter(memberships__batch=batch), Batch.objects.all(), TestRun.objects.all()):
        assert visible(rows, keeper).count() == rows.count() > 0
        assert visible(rows, stranger).count() == visible(rows).count() == 0
    projects.admit(by=keeper, project=project, person=stranger)
    assert list(visible(TestRun.objects.all(), stranger)) == [run]
    projects.dismiss(by=keeper, why="moved on", project=project, person=stranger)
    assert not visible(TestRun.objects.all(), stranger).exists()
    projects.open_up(by=keeper, why="published", project=project)
    assert visible(TestRun.objects.all(), stranger).exists()


def test_action_refuses_rows_of_others_as_if_they_were_not_there(keeper, stranger, project):
    batch = make_batch(keeper, n=1, project=project)
    coupon = batch.members.get().coupon
    with pytest.raises(UnknownCode) as refused:
        coupons.move(by=stranger, why="tidy", coupon=coupon, state="lost")
    with pytest.raises(UnknownCode) as guessed:
        coupons.find(coupons.with_check_character("TS-26-9999"), by=stranger)
    known, missing = str(refused.value), str(guessed.value)
    assert known.replace(coupon.code, "…") == missing.replace(coupons.with_check_character("TS-26-9999"), "…")


def test_rows_inside_lists_and_mappings_are_checked_too(keeper, stranger, project):
    hidden = make_coupon(keeper, project=project)
    with pytest.raises(UnknownCode):
        batches.form(
            by=stranger, code="B", recipe_revision=make_recipe(stranger), lot=hidden.lot, treated=[],
            control=(make_coupon(stranger), hidden),
        )  # fmt: skip
    with pytest.raises(UnknownCode):
        coupons.split(by=stranger, coupon=make_coupon(stranger), pieces=[{"mark": "a"}, {"project": project}])


def test_coupon_without_project_belongs_to_the_members_only_batch_that_it_joins(keeper, project):
    batch = make_batch(keeper, n=1, project=project)
    assert batch.members.get().coupon.project == project
    further = make_coupon(keeper)
    batches.join(by=keeper, why="second control", batch=batch, coupon=further, role="control")
    assert Coupon.objects.get(pk=further.pk).project == project


def test_coupon_of_another_project_does_not_join(keeper, project):
    other = projects.start(by=keeper, code="P-2", title="Hulls")
    batch, coupon = make_batch(keeper, n=1, project=project), make_coupon(keeper, project=other)
    with pytest.raises(NotTied, match="Each would show the other"):
        batches.join(by=keeper, why="control", batch=batch, coupon=coupon, role="control")
    hidden = make_coupon(keeper, project=project)
    with pytest.raises(NotTied):
        batches.join(by=keeper, why="control", batch=make_batch(keeper, n=1), coupon=hidden, role="control")


def test_coupon_is_not_taken_out_of_the_project_of_its_batch_or_parent(keeper, project):
    coupon = make_batch(keeper, n=1, project=project).members.get().coupon
    with pytest.raises(NotTied):
        coupons.amend(by=keeper, why="elsewhere", coupon=coupon, project=None)
    parent = make_coupon(keeper, project=project)
    with pytest.raises(NotTied):
        coupons.split(by=keeper, coupon=parent, pieces=[{"project": None}])
    [piece] = coupons.split(by=keeper, coupon=parent, pieces=[{"mark": "a"}])
    with pytest.raises(NotTied):
        coupons.amend(by=keeper, why="elsewhere", coupon=piece, project=None)


def test_restricting_takes_in_what_was_tied_and_belonged_nowhere(keeper):
    project = projects.start(by=keeper, code="P-2", title="Hulls")
    batch = make_batch(keeper, n=2, project=project)
    coupon = batch.members.first().coupon
    [piece] = coupons.split(by=keeper, coupon=coupon, pieces=[{"mark": "a"}])
    assert piece.project is None
    projects.restrict(by=keeper, why="the customer asks", project=project)
    assert set(Coupon.objects.values_list("project", flat=True)) == {project.pk}


def test_restricting_refuses_a_tie_to_another_project(keeper):
    one, two = (projects.start(by=keeper, code=code, title=code) for code in ("P-2", "P-3"))
    make_batch(keeper, n=1, project=one, control=[make_coupon(keeper, project=two)])
    with pytest.raises(NotTied):
        projects.restrict(by=keeper, why="the customer asks", project=one)
    assert not Project.objects.get(pk=one.pk).members_only


@pytest.fixture
def imported(keeper):
    """Coupons with a run each, all of them imported from one file that names them."""

    def together(*projects_of):
        made = [make_coupon(keeper, project=project) for project in projects_of]
        data = "".join(f"{coupon.code}\n" for coupon in made).encode()
        read = [make_run(keeper, coupon=coupon) for coupon in made]
        attachments.keep_import(by=keeper, runs=read, name="bench.csv", data=data)
        return made

    return together


def downloads(person):
    """Every attached file that the API lists for the person: the answers of its download, in one text."""
    api = APIClient()
    api.force_authenticate(person)
    listed = api.get("/api/attachments/").json()["results"]
    files = [api.get(f"/api/attachments/{row['id']}/file/") for row in listed]
    assert {file.status_code for file in files} <= {200}
    return "".join(b"".join(file).decode() for file in files)


def test_restricting_takes_in_what_came_from_the_same_imported_file(keeper, imported):
    project, operator = projects.start(by=keeper, code="P-2", title="Hulls"), make_person("operator")
    first, second = imported(project, None)
    [third] = imported(None)
    assert first.code in downloads(operator)
    projects.restrict(by=keeper, why="the customer asks", project=project)
    assert set(Coupon.objects.filter(project=project)) == {first, second}
    assert downloads(operator) == f"{third.code}\n"
    assert first.code in downloads(keeper)
    with pytest.raises(NotTied):
        coupons.amend(by=keeper, why="elsewhere", coupon=second, project=None)
    coupons.amend(by=keeper, why="moved", coupon=second, place="Box 2")


def test_restricting_refuses_an_imported_file_of_another_project(keeper, imported):
    one, two = (projects.start(by=keeper, code=code, title=code) for code in ("P-2", "P-3"))
    first, second = imported(one, two)
    with pytest.raises(NotTied, match=second.code):
        projects.restrict(by=keeper, why="the customer asks", project=one)
    assert visible(Coupon.objects.filter(pk=first.pk), make_person("operator")).exists()
    assert not Project.objects.get(pk=one.pk).members_only


def test_taking_in_goes_on_from_file_to_file(keeper, imported):
    """One coupon leads to the next: a file, a piece of what the file names, a batch of that piece."""
    project = projects.start(by=keeper, code="P-2", title="Hulls")
    _, second = imported(project, None)
    [piece] = coupons.split(by=keeper, coupon=second, pieces=[{"mark": "a"}])
    batch = make_batch(keeper, n=1, control=[piece])
    projects.restrict(by=keeper, why="the customer asks", project=project)
    assert set(Coupon.objects.values_list("project", flat=True)) == {project.pk}
    assert Batch.objects.get(pk=batch.pk).project == project


def test_coupon_of_a_shared_imported_file_goes_into_no_members_only_project_alone(keeper, imported, project):
    first, second = imported(None, None)
    with pytest.raises(NotTied, match=second.code):
        coupons.amend(by=keeper, why="the customer asks", coupon=first, project=project)
    with pytest.raises(NotTied, match=second.code):
        batches.join(
            by=keeper, why="control", batch=make_batch(keeper, n=1, project=project), coupon=first, role="control"
        )
    attachments.withdraw(by=keeper, why="wrong file", attachment=second.runs.get().attachments.get())
    with pytest.raises(NotTied, match=second.code):
        coupons.amend(by=keeper, why="the customer asks", coupon=first, project=project)
    alone = imported(None)[0]
    coupons.amend(by=keeper, why="the customer asks", coupon=alone, project=project)
    assert alone.code not in downloads(make_person("operator"))


def test_coupons_of_one_imported_file_join_a_members_only_batch_together(keeper, imported, project):
    first, second = imported(None, None)
    with pytest.raises(NotTied, match=second.code):
        make_batch(keeper, n=1, project=project, control=[first])
    make_batch(keeper, n=1, project=project, control=[first], reference=[second])
    assert set(Coupon.objects.filter(project=project)) >= {first, second}


def test_bytes_that_were_attached_by_hand_tie_only_once_they_are_imported(keeper, project):
    read = [make_run(keeper) for _ in range(2)]
    for run in read:
        attachments.add(by=keeper, owner=run, name="note.csv", data=b"a,b\n1,2\n")
    coupons.amend(by=keeper, why="the customer asks", coupon=read[0].coupon, project=project)
    coupons.amend(by=keeper, why="open again", coupon=read[0].coupon, project=None)
    attachments.keep_import(by=keeper, runs=read, name="note.csv", data=b"a,b\n1,2\n")
    with pytest.raises(NotTied):
        coupons.amend(by=keeper, why="the customer asks", coupon=read[0].coupon, project=project)


def test_nobody_closes_a_project_to_those_who_work_on_it(keeper, stranger):
    project = projects.start(by=keeper, code="P-2", title="Hulls")
    projects.admit(by=keeper, project=project, person=keeper)
    with pytest.raises(ValueRefused, match="is no member"):
        projects.restrict(by=stranger, why="mine now", project=project)


def test_stranger_neither_admits_nor_opens(keeper, stranger, project):
    for verb in (projects.admit, projects.dismiss):
        with pytest.raises(UnknownCode):
            verb(by=stranger, why="let me in", project=project, person=stranger)
    with pytest.raises(UnknownCode):
        projects.open_up(by=stranger, why="let me in", project=project)


def test_administrator_admits_but_belongs_to_none_and_opens_none(keeper, stranger, project):
    administrator = make_person("administrator")
    projects.admit(by=administrator, project=project, person=stranger)
    with pytest.raises(ValueRefused, match="looks at no records"):
        projects.admit(by=administrator, project=project, person=administrator)
    with pytest.raises(NotAllowed):
        projects.open_up(by=administrator, why="look", project=project)
    with pytest.raises(NotAllowed):
        coupons.amend(by=administrator, why="look", coupon=make_coupon(keeper), place="desk")


def test_membership_ends_with_a_reason_and_may_begin_again(keeper, stranger, project):
    projects.admit(by=keeper, project=project, person=stranger)
    with pytest.raises(ValueRefused, match="member already"):
        projects.admit(by=keeper, project=project, person=stranger)
    with pytest.raises(ReasonMissing):
        projects.dismiss(by=keeper, project=project, person=stranger)
    projects.dismiss(by=keeper, why="moved on", project=project, person=stranger)
    with pytest.raises(ValueRefused, match="is no member"):
        projects.dismiss(by=keeper, why="moved on", project=project, person=stranger)
    projects.admit(by=keeper, project=project, person=stranger)
    assert list(project.members.filter(person=stranger).order_by("pk").values_list("is_current", flat=True)) == [
        False,
        True,
    ]


def test_disabled_person_is_not_admitted(keeper, stranger, project):
    stranger.is_active = False
    with pytest.raises(ValueRefused, match="has been disabled"):
        projects.admit(by=keeper, project=project, person=stranger)


@pytest.mark.parametrize("change", [
    lambda row: ProjectMember.objects.filter(pk=row.pk).delete(),
    lambda row: ProjectMember.objects.filter(pk=row.pk).update(person=make_person()),
    lambda row: ProjectMember.objects.filter(pk=row.pk, is_current=False).update(is_current=True),
], ids=["delete", "another person", "ended and begun again"])  # fmt: skip
def test_database_keeps_memberships(keeper, stranger, project, change):
    projects.admit(by=keeper, project=project, person=stranger)
    row = projects.dismiss(by=keeper, why="moved on", project=project, person=stranger)
    with pytest.raises(DatabaseError), trail.recorded("tests", "try"), transaction.atomic():
        change(row)
    assert ProjectMember.objects.filter(pk=row.pk, person=stranger, is_current=False).exists()


def test_customer_sees_reports_of_own_projects_and_nothing_else(keeper, project):
    from tests.factories import issue_report, make_tested_batch

    customer = make_person("customer")
    specification = make_criteria(keeper)
    batch = make_tested_batch(keeper, n=1, drops=3, control=False, project=project)
    author, reviewer = make_person("developer"), make_person("reviewer")
    for person in (author, reviewer):
        projects.admit(by=keeper, project=project, person=person)
    report = issue_report(batch, specification, author=author, reviewer=reviewer, approver=keeper)
    assert not visible(Qualification.objects.all(), customer).exists()
    projects.admit(by=keeper, project=project, person=customer)
    assert list(visible(Qualification.objects.all(), customer)) == [report]
    for model in (Batch, Coupon, TestRun, Project, type(specification), type(batch.lot)):
        assert model.objects.exists()
        assert not visible(model.objects.all(), customer).exists()
    for verb, details in (
        (criteria.create, {"code": "S", "title": "S", "fixed_on": None, "when_inconclusive": "", "criteria": []}),
        (processing.note_deviation, {"batch": batch, "what": "x", "reason": "y"}),
        (runs.complete, {"run": TestRun.objects.first()}),
    ):
        with pytest.raises(NotAllowed):
            verb(by=customer, **details)


def test_every_model_says_how_it_leads_to_a_project():
    from django.apps import apps

    from labrecords.visibility import paths_of

    for model in apps.get_app_config("labrecords").get_models():
        if hasattr(model, "pgh_tracked_model"):  # lines of the trail go with the row they tell of
            continue
        assert "PROJECT" in vars(model), model
        for path in paths_of(model):
            assert model._base_manager.filter(**{f"{path}__in": [0]}).count() == 0
    assert make_lot(make_person()).PROJECT is None
