"""Projects and their members: who sees the records of a project that is for members only."""

from django.db.models import Q

from labrecords import access
from labrecords.actions.rows import hold, write
from labrecords.errors import NotTied, ValueRefused
from labrecords.models import Attachment, Batch, Coupon, Project, ProjectMember
from labrecords.models.attachment import IMPORTED
from labrecords.trail import verb


@verb
def start(*, by, why="new project", code, title, customer="", customer_contact="", members_only=False):
    project = write(Project(code=code, title=title, customer=customer, customer_contact=customer_contact,
                            members_only=members_only), by)  # fmt: skip
    if members_only:
        _admit(by, project, by)
    return project


@verb
def restrict(*, by, why, project):
    """For members only from now on, whoever does it being one. Coupons of its batches and imported files, which so
    far belonged to no project, belong to it from here on; a tie to another project is refused.
    """
    hold(_tied_coupons(project).values("pk"))
    project = Project.objects.select_for_update(no_key=True).get(pk=project.pk)
    if project.members_only:
        raise ValueRefused(field="project", label="Project", value=project.code, rule="is for members only already")
    project.members_only = True
    write(project)
    if not project.members.filter(person=by, is_current=True).exists():
        _refuse_stranger(by, project)
        _admit(by, project, by)
    _gather(project)
    return project


@verb
def open_up(*, by, why, project):
    """Open to everybody of the lab, with the reason. Customers still need to be members."""
    project = Project.objects.select_for_update(no_key=True).get(pk=project.pk)
    if not project.members_only:
        raise ValueRefused(field="project", label="Project", value=project.code, rule="is open already")
    project.members_only = False
    return write(project)


@verb
def admit(*, by, why="admitted to the project", project, person):
    if not person.is_active:
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule="has been disabled")
    if access.SEES.get(person.role) == access.EVERY:
        rule = "keeps people and settings, and looks at no records"
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule=rule)
    return _admit(by, project, person)


@verb
def dismiss(*, by, why, project, person):
    """No member from now on; what the person did for the project keeps the name."""
    member = (
        ProjectMember.objects.select_for_update(no_key=True)
        .filter(project=project, person=person, is_current=True)
        .first()
    )
    if member is None:
        rule = f"is no member of project {project.code}"
        raise ValueRefused(field="person", label="Person", value=person.full_name, rule=rule)
    member.is_current = False
    return write(member)


def keep_together(row, other):
    """Refuse to tie a batch and a coupon, a coupon and its piece, or coupons whose readings came from one file,
    where one would show what the other hides.

    Each shows the other to whoever sees it: as soon as a members-only project is involved, both belong to it.
    """
    if row.project_id == other.project_id:
        return
    # Held, so that neither becomes members-only meanwhile.
    wanted = Project.objects.filter(pk__in=[row.project_id, other.project_id], members_only=True)
    project = wanted.order_by("pk").select_for_update(no_key=True).first()
    if project:
        inside, outside = (row, other) if row.project_id == project.pk else (other, row)
        raise NotTied(inside=_named(inside), project=project.code, outside=_named(outside))


def take_in(coupons, batch):
    """Coupons without project belong to that of a members-only batch that they join.

    All go in before their ties are looked at: coupons that belong together may join together.
    """
    joining = [coupon for coupon in coupons if coupon.project_id is None]
    if batch.project and batch.project.members_only:
        for coupon in joining:
            coupon.project = batch.project
            write(coupon)
        for coupon in joining:
            check_ties(coupon)
    for coupon in coupons:
        keep_together(coupon, batch)


def check_ties(coupon):
    """The coupon's batches, parent, pieces and those it shares an imported file with still go with its project."""
    for other in _neighbours(coupon):
        keep_together(coupon, other)


def _refuse_stranger(by, project):
    """Nobody closes a project to the people of the lab who work on it."""
    if project.members.filter(is_current=True).exclude(person__role="customer").exists():
        rule = f"is no member of project {project.code}; one of its members does this"
        raise ValueRefused(field="project", label="Person", value=by.full_name, rule=rule)


def _admit(by, project, person):
    return write(ProjectMember(project=project, person=person), by)


def _gather(project):
    """Bring in what belongs to no project yet and is tied to this one, until nothing more follows."""
    while True:
        coupons = hold(_tied_coupons(project).filter(project=None).values("pk"))
        batches = Batch.objects.filter(members__coupon__project=project, project=None).distinct()
        for row in [*coupons, *batches]:
            row.project = project
            write(row)
        if not coupons and not batches:
            break
    for coupon in Coupon.objects.filter(project=project):
        check_ties(coupon)
    for coupon in _tied_coupons(project).exclude(project=project):
        check_ties(coupon)


def _tied_coupons(project):
    ties = Q(project=project) | Q(memberships__batch__project=project)
    ties |= Q(parent__project=project) | Q(children__project=project)
    ties |= Q(pk__in=_of_one_import(Coupon.objects.filter(project=project)))
    return Coupon.objects.filter(ties).distinct()


def _neighbours(coupon):
    others = Q(parent=coupon) | Q(pk=coupon.parent_id) | Q(pk__in=_of_one_import([coupon]))
    return [*Batch.objects.filter(members__coupon=coupon), *Coupon.objects.filter(others).exclude(pk=coupon.pk)]


def _of_one_import(coupons):
    """Numbers of the coupons with a run that came from the same imported file as a run of these; these as well.

    What `attachments.keep_import` noted counts, withdrawn or not, since a withdrawn file can be read. The same bytes
    attached by hand are no tie: whoever attaches a file to a record wants it to be seen there.
    """
    imported = Attachment.objects.filter(note=IMPORTED, run__isnull=False)
    files = imported.filter(run__coupon__in=coupons).values("stored")
    return imported.filter(stored__in=files).values("run__coupon")


def _named(row):
    return f"{row._meta.verbose_name} {row.code}"
