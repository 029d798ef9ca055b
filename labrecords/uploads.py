"""Files on the way in and out: a cap on what a form may send, and downloads that no browser runs."""

from base64 import b64encode

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpResponse

from labrecords.errors import ValueRefused
from labrecords.models.attachment import MOST_BYTES


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
        if self.seen > MOST_BYTES:
            raise SkipFile
        return raw_data

    def file_complete(self, file_size):
        return None


def received(file) -> tuple[str, bytes]:
    """Name and bytes of an uploaded file; a dropped one is told as what it is."""
    if file is None:
        rule = f"is missing, or larger than {MOST_BYTES // 2**20} MB: such files are not taken"
        raise ValueRefused(field="file", label="File", value="", rule=rule)
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
