"""Files on the way in and out: a cap on what a form may send, and downloads that no browser runs."""

from base64 import b64encode

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler
from django.http import HttpResponse

from labrecords.errors import FileMissing, ValueRefused
from labrecords.models.attachment import MOST_BYTES


class TooLarge(UploadedFile):
    """Stands for a file that was dropped: its name, and no content."""


class Capped(FileUploadHandler):
    """Stands before Django's own handlers. A file that is too large is dropped, a far larger request ended."""

    def handle_raw_input(self, input_data, META, content_length, boundary, encoding=None):
        if content_length > 2 * MOST_BYTES:
            raise RequestDataTooBig("The request is far larger than any file that is taken.")

    def new_file(self, *arguments, **options):
        super().new_file(*arguments, **options)
        self.seen = 0

    def receive_data_chunk(self, raw_data, start):
        self.seen += len(raw_data)
        # Nothing of it goes on to the handlers that keep it.
        return raw_data if self.seen <= MOST_BYTES else None

    def file_complete(self, file_size):
        if self.seen <= MOST_BYTES:
            return None
        for handler in self.request.upload_handlers:  # they began to keep it, and are not asked any more
            if hasattr(handler, "file"):
                handler.file.close()
        return TooLarge(name=self.file_name, size=self.seen)


def received(file) -> tuple[str, bytes]:
    """Name and bytes of an uploaded file; a dropped one is told as what it is, by its name."""
    if file is None:
        raise FileMissing()
    if isinstance(file, TooLarge):
        rule = f"is larger than {MOST_BYTES // 2**20} MB: such files are not taken"
        raise ValueRefused(field="file", label="File", value=file.name, rule=rule)
    return file.name, file.read()


def sent(attachment) -> HttpResponse:
    """An attachment to be saved, never shown in place: with its kind, a plain name and its digest (RFC 9530)."""
    stored = attachment.stored
    digest = b64encode(bytes.fromhex(stored.sha256)).decode()
    headers = {
        "Content-Disposition": f'attachment; filename="{attachment.safe_name}"',
        "Repr-Digest": f"sha-256=:{digest}:",
        "X-Content-Type-Options": "nosniff",
    }
    return HttpResponse(bytes(stored.file), content_type=stored.declaration.media_type, headers=headers)
