"""Coupons as people name them: scanned or pasted codes, or the marks engraved on them."""

import re

from django import forms

from labrecords.actions import coupons
from labrecords.errors import Refusal, ValueRefused
from labrecords.models import Coupon
from labrecords.visibility import visible


def coupons_named(text, by):
    """The coupons of a pasted list, in its order, each once. A mark must belong to one open coupon only."""
    seen = visible(Coupon.objects.all(), by)
    words = [word for word in re.split(r"[\s,;]+", text or "") if word]
    by_code = {row.code: row for row in seen.filter(code__in=[word.upper() for word in words])}
    by_mark = {}
    for row in seen.open().filter(mark__in=words):
        by_mark.setdefault(row.mark, []).append(row)
    return list({row.pk: row for row in (_named(word, by_code, by_mark, by) for word in words)}.values())


def _named(word, by_code, by_mark, by):
    if word.upper() in by_code:
        return by_code[word.upper()]
    marked = by_mark.get(word, [])
    if len(marked) > 1:
        codes = ", ".join(row.code for row in marked)
        raise ValueRefused(
            field="coupons",
            label="Mark",
            value=word,
            rule=f"stands on several coupons ({codes}): give the code",
        )
    return marked[0] if marked else coupons.find(word, by=by)


class CouponsField(forms.CharField):
    """Codes or marks, separated by spaces, commas or new lines."""

    by = None  # who names them; forms.offered says it

    widget = forms.Textarea(
        attrs={"rows": 2, "autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
    )

    def __init__(self, **options):
        options.setdefault(
            "help_text", "Codes or marks: scan, paste or type; separated by spaces, commas or new lines."
        )
        options.setdefault("error_messages", {"required": "Coupons are missing."})
        super().__init__(**options)

    def to_python(self, value):
        text = super().to_python(value)
        self.run_validators(text)  # of the text: a NUL is not looked up
        try:
            return coupons_named(text, self.by)
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from None
