"""Twenty names that nobody should give anything, put into every free text of every record that is made."""

from itertools import count, cycle

from django.db import models
from django.db.models.signals import pre_save

from labrecords.models import (
    Assessment,
    AssessmentVersion,
    Coupon,
    Laboratory,
    Person,
    Reading,
    Signature,
    TestRun,
)
from labrecords.models.sign_in import SecurityEvent


def strings(port, file):
    return [
        "<script>alert(1)</script>", f'<img src="http://127.0.0.1:{port}/a.png">', f'<img src="{file}">',
        '<a href="javascript:alert(1)">x</a>', f'"><svg onload="fetch(\'http://127.0.0.1:{port}/b\')">',
        "=1+1", "+1-1", "-2+3", "@SUM(A1)", f'=HYPERLINK("http://127.0.0.1:{port}/c","x")', "10⁻⁶ θ ≥ 150° ± 2 µL",
        "a\u202etxt.exe", "a\u200bb\x07c", "line one\r\nline two", "O'Brien & \"Söhne\" <b>bold",
        '<font color="white">FAIL</font>', "{{ 7|add:7 }}{% now 'Y' %}", "'; DROP TABLE labrecords_coupon; --",
        f"<para><link href='http://127.0.0.1:{port}/d'/>&#60;b&#62;", "W" * 400,
    ]  # fmt: skip


# What goes into addresses, so without a slash; every other free text takes the whole list.
CODES = ["<b>x", "=1+1", "a&b\"c'", "‮x", "%3Cscript%3E", "{{7}}"]
# Texts with a meaning of their own, which takes no other: a grouping, a number as typed, a rule of the database.
MEANT = {"position", "direction", "typed", "dose_kind", "exposure", "site", "coupon_scheme", "code_version", "digest",
         "inputs_digest", "sha256", "not_recorded", "excluded_because", "withdrawn_because", "rack_position",
         "report_number"}  # fmt: skip
# Signed content is compared with its hashes; the words of an amendment have their own test of the report.
APART = (Reading, Person, SecurityEvent, Laboratory, Assessment, AssessmentVersion, Signature)


class Filler:
    """While it is open, each record is stored with a hostile text, and a mark to find it by, in every free text."""

    def __init__(self, hostile):
        self.texts, self._hostile, self._codes, self._n = {}, cycle(hostile), cycle(CODES), count(1)

    def __enter__(self):
        pre_save.connect(self.fill)
        return self

    def __exit__(self, *problem):
        pre_save.disconnect(self.fill)

    def fill(self, sender, instance, **signal):
        if sender._meta.app_label != "labrecords" or isinstance(instance, APART) or not instance._state.adding:
            return
        for field in sender._meta.concrete_fields:
            if not isinstance(field, models.CharField | models.TextField) or field.choices or field.name in MEANT:
                continue
            if not field.unique:
                setattr(instance, field.name, self.text(next(self._hostile), field.max_length))
            elif not isinstance(instance, Coupon | TestRun):
                setattr(instance, field.name, self.text(next(self._codes), field.max_length))

    def text(self, hostile, longest):
        mark = f"«{next(self._n)}»"
        # The database keeps what a form would send: line breaks are one sign, the ends have no blanks.
        self.texts[mark] = f"{mark}{hostile}"[: longest or 600].strip()
        return self.texts[mark]
