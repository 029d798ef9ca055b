"""Files that belong to a record: photos, certificates, exports of an instrument. Kept once, as they came, for good."""

from dataclasses import dataclass

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Func, Q, Value

from labrecords.models.batch import Batch
from labrecords.models.coupon import Coupon
from labrecords.models.instrument import Instrument
from labrecords.models.liquid import LiquidLot, _exactly_one
from labrecords.models.material import SubstrateLot
from labrecords.models.record import Record, between, frozen, not_empty, one_of
from labrecords.models.run import TestRun

# A photo of a camera is 5 to 15 MB; the whole file is held in memory and in one row of the database.
MOST_BYTES = 20 * 2**20
# What one record may hold, so that no script fills the disk through a single coupon.
MOST_FILES, MOST_BYTES_OF_RECORD = 100, 200 * 2**20


@dataclass(frozen=True)
class FileKind:
    """What a file may be, told by its content; its name must end in one of the extensions."""

    title: str
    media_type: str
    extensions: tuple[str, ...]
    is_picture: bool = False


FILE_KINDS = {
    "png": FileKind("PNG picture", "image/png", ("png",), is_picture=True),
    "jpeg": FileKind("JPEG picture", "image/jpeg", ("jpg", "jpeg"), is_picture=True),
    "tiff": FileKind("TIFF picture", "image/tiff", ("tif", "tiff"), is_picture=True),
    "pdf": FileKind("PDF", "application/pdf", ("pdf",)),
    "csv": FileKind("CSV table (UTF-8)", "text/csv", ("csv",)),
    "text": FileKind("plain text (UTF-8)", "text/plain", ("txt",)),
}
# Note of a file that readings were imported from: each of its runs shows the readings of all of them.
IMPORTED = "readings were imported from this file"
OWNERS = ["coupon", "run", "batch", "instrument", "lot", "liquid_lot"]


def file_kind_choices():
    return [(key, kind.title) for key, kind in FILE_KINDS.items()]


def _sha256_of_file():
    return Func(Func(F("file"), function="sha256"), Value("hex"), function="encode", output_field=models.CharField())


# The bytes are kept once; their SHA-256 stands in the trail.
@pghistory.track(exclude=["file"])
class StoredFile(Record):
    """The bytes of a file. The same bytes are stored once, however many records they belong to."""

    PROJECT = tuple(f"attachments__{path}" for path in ("coupon__project", "run__coupon__project", "batch__project"))

    sha256 = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=10, choices=file_kind_choices)
    size = models.PositiveIntegerField("size [bytes]")
    file = models.BinaryField()

    class Meta(Record.Meta):
        ordering = ["id"]
        constraints = [
            one_of("storedfile_kind_known", "kind", FILE_KINDS),
            between("storedfile_size", "size", 1, MOST_BYTES),
            models.CheckConstraint(name="storedfile_matches_sha256", condition=Q(sha256=_sha256_of_file())),
            models.CheckConstraint(
                name="storedfile_has_size",
                condition=Q(size=Func(F("file"), function="octet_length", output_field=models.IntegerField())),
            ),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.get_kind_display()}, SHA-256 {self.sha256[:12]}…"

    @property
    def declaration(self):
        return FILE_KINDS[self.kind]


class AttachmentQuerySet(models.QuerySet):
    def with_names(self):
        """Everything a list prints, without the bytes."""
        return self.select_related("stored", "created_by", "withdrawn_by", *OWNERS).defer("stored__file")


@pghistory.track()
class Attachment(Record):
    """A stored file as part of one record, under the name it came with. Withdrawn ones stay readable."""

    PROJECT = ("coupon__project", "run__coupon__project", "batch__project")

    coupon = models.ForeignKey(Coupon, models.PROTECT, null=True, blank=True, related_name="attachments")
    run = models.ForeignKey(TestRun, models.PROTECT, null=True, blank=True, related_name="attachments")
    batch = models.ForeignKey(Batch, models.PROTECT, null=True, blank=True, related_name="attachments")
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="attachments")
    lot = models.ForeignKey(
        SubstrateLot, models.PROTECT, null=True, blank=True, related_name="attachments", verbose_name="substrate lot"
    )
    liquid_lot = models.ForeignKey(LiquidLot, models.PROTECT, null=True, blank=True, related_name="attachments")
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="attachments", verbose_name="file")
    name = models.CharField("name as given", max_length=255)
    note = models.CharField(max_length=300, blank=True)
    withdrawn_because = models.CharField(max_length=200, blank=True)
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    objects = AttachmentQuerySet.as_manager()

    class Meta(Record.Meta):
        ordering = ["id"]
        constraints = [
            not_empty("attachment_named", "name"),
            models.CheckConstraint(name="attachment_has_one_owner", condition=_exactly_one(OWNERS)),
            models.CheckConstraint(
                name="attachment_withdrawn_by_and_why",
                condition=Q(withdrawn_by__isnull=True, withdrawn_because="")
                | Q(withdrawn_by__isnull=False) & ~Q(withdrawn_because=""),
            ),
        ]
        triggers = [
            *Record.Meta.triggers,
            pgtrigger.ReadOnly(
                name="as_attached", fields=[*OWNERS, "stored", "name", "note", "created_at", "created_by"]
            ),
            pgtrigger.Protect(
                name="withdrawn_for_good",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__withdrawn_by__isnull=False),
            ),
        ]

    def __str__(self):
        return self.name

    @property
    def owner(self):
        return next(row for row in (getattr(self, name) for name in OWNERS) if row is not None)

    @property
    def is_withdrawn(self):
        return self.withdrawn_by_id is not None

    @property
    def safe_name(self):
        """A name for a download: made of plain letters, digits and hyphens, with the extension of the content."""
        stem = self.name.rpartition(".")[0] or self.name
        plain = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in stem)[:80].strip("-")
        return f"{plain or 'file'}.{self.stored.declaration.extensions[0]}"
