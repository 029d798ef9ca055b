"""Files attached to a record, and withdrawn again with a reason. Nothing is deleted; the same bytes are kept once."""

from __future__ import annotations

import hashlib

from django.db import transaction
from django.db.models import Sum

from labrecords.actions import content, projects
from labrecords.actions.rows import hold, write
from labrecords.errors import ValueRefused
from labrecords.models import Attachment, StoredFile
from labrecords.models.attachment import IMPORTED, MOST_BYTES_OF_RECORD, MOST_FILES, OWNERS
from labrecords.trail import verb


@verb
def add(*, by, why="file attached", owner, name, data, note=""):
    """A file of a record: PNG, JPEG, TIFF, PDF, CSV or plain text, told by its content. Returns the attachment."""
    name = content.plain_name(name)
    content.check_size(name, data)
    return _attach(by, owner, name, _stored(by, content.kind_of(name, data), data), note)


@verb
def keep_import(*, by, why="imported file kept", runs, name, data, known=()):
    """The file that readings were imported from, kept beside each of the runs it made. Returns the attachments.

    Each run shows the whole file, so runs of a members-only project and others do not come from one file; later on
    `projects` holds that. `known`: runs whose readings stand in the file too, but were stored before.
    """
    coupons = hold({run.coupon_id for run in [*runs, *known]})
    first, *others = {coupon.project_id: coupon for coupon in coupons}.values()
    for coupon in others:
        projects.keep_together(coupon, first)
    name = content.plain_name(name)
    content.check_size(name, data)
    stored = _stored(by, "csv", data)
    # A run that somebody attached the same bytes to by hand gets them as the imported file as well: that ties it.
    there = Attachment.objects.filter(stored=stored, run__in=runs, note=IMPORTED)
    there = set(there.values_list("run_id", flat=True))
    new = [run for run in runs if run.pk not in there]
    # In one statement: a file may hold hundreds of runs.
    return Attachment.objects.bulk_create(
        Attachment(run=run, stored=stored, name=name, note=IMPORTED, created_by=by) for run in new
    )


@verb
def withdraw(*, by, why, attachment):
    """Mark a file as not to be used, with the reason; it stays where it is and can be read."""
    attachment = Attachment.objects.select_for_update(no_key=True, of=("self",)).get(pk=attachment.pk)
    if attachment.is_withdrawn:
        raise ValueRefused(field="attachment", label="File", value=attachment.name, rule="has been withdrawn already")
    attachment.withdrawn_by, attachment.withdrawn_because = by, why
    return write(attachment)


def owner_field(row) -> str:
    """The field of an attachment that points to a row of this kind. Raises where files do not belong to it."""
    for name in OWNERS:
        if isinstance(row, Attachment._meta.get_field(name).related_model):
            return name
    raise ValueRefused(field="owner", label="Record", value=row, rule="takes no files")


def _stored(by, kind, data):
    digest = hashlib.sha256(data).hexdigest()
    found = StoredFile.objects.filter(sha256=digest).defer("file").first()
    if found is not None:
        return found
    try:
        with transaction.atomic():
            return write(StoredFile(sha256=digest, kind=kind, size=len(data), file=data), by)
    except ValueRefused:
        # Somebody stored the same bytes at this moment; whatever else was refused is refused again.
        found = StoredFile.objects.filter(sha256=digest).defer("file").first()
        if found is None:
            raise
        return found


def _attach(by, owner, name, stored, note):
    field = owner_field(owner)
    there = Attachment.objects.filter(**{field: owner})
    earlier = there.filter(stored=stored, withdrawn_by=None).first()
    if earlier is not None:
        rule = "is attached to this record already" + ("" if earlier.name == name else f", as “{earlier.name}”")
        raise ValueRefused(field="file", label="File", value=name, rule=rule)
    size = there.aggregate(size=Sum("stored__size"))["size"] or 0
    if there.count() >= MOST_FILES or size + stored.size > MOST_BYTES_OF_RECORD:
        rule = f"is too much: a record holds {MOST_FILES} files and {MOST_BYTES_OF_RECORD // 2**20} MB at most"
        raise ValueRefused(field="file", label="File", value=name, rule=rule)
    return write(Attachment(**{field: owner}, stored=stored, name=name, note=note), by)
