"""Every address of the site, from the URL list itself, filled with rows that are there."""

import re

from django.urls import URLPattern, get_resolver

from labrecords.actions import data_sheets, processing
from labrecords.models import Analysis, Coupon, Deviation, ProcessRecord, Reading, TestRun
from tests.factories import (
    issue_report,
    make_shedding_criteria,
    make_tested_batch,
)


def patterns(found=None, prefix="/"):
    """(address as written in the list, pattern) of everything that answers."""
    for item in get_resolver().url_patterns if found is None else found:
        text = prefix + str(item.pattern)
        if isinstance(item, URLPattern):
            yield text, item
        else:
            yield from patterns(item.url_patterns, text)


class World:
    """One of everything, and what to fill an address with."""

    def __init__(self, person):
        batch = make_tested_batch(person, n=2, drops=3)
        self.person, self.batch = person, batch
        data_sheets.record(by=person, material="Hexane", hazards=["solvent"], place="folder 1", revised_on="2026-01-05")
        issued = issue_report(batch, make_shedding_criteria(person))
        processing.note_deviation(by=person, batch=batch, what="late", reason="lift stood still")
        run, coupon = TestRun.objects.first(), Coupon.objects.first()
        statistic = Analysis.objects.get(run=run, is_current=True).content["statistics"][0]["key"]
        specification = issued.criterion_revision.criterion_set
        recipe, liquid = batch.recipe_revision.recipe, run.liquid_lot.liquid
        # `noun.parameter` of an address, or the parameter alone where it means the same everywhere.
        self.words = {
            "batches.code": batch.code, "coupons.code": coupon.code, "runs.code": run.code, "recipes.code": recipe.code,
            "number": issued.report_number, "report_number": issued.report_number, "pk": "1",
            "instruments.code": run.instrument.code, "liquids.code": liquid.code, "materials.code": batch.lot.code,
            "specifications.code": specification.code, "liquid-lots.code": run.liquid_lot.code,
            "people.pk": str(person.pk), "username": person.username, "readings.pk": str(Reading.objects.first().pk),
            "deviations.pk": str(Deviation.objects.first().pk), "shelf": "liquids", "owner": "liquid", "order": "1",
            "verb": "role", "processing.pk": str(ProcessRecord.objects.first().pk), "key": "temperature_c",
            "runs.key": statistic, "batches.key": "C1", "qualifications.key": "C1", "methods.key": "sliding_angle",
            "exposures.key": "abrasion", "step-kinds.key": "boiling", "criterion-kinds.key": "mean_interval",
            "quantities.key": "sliding_angle", "assessments.number": str(issued.assessment_id), "step": "complete",
            "assessments.pk": str(issued.assessment_id), "noun": "coupon", "name": coupon.code,
        }  # fmt: skip

    def fill(self, text):
        text = text.replace("^", "").replace(r"\Z", "").rstrip("$")
        noun = text.removeprefix("/api").strip("/").partition("/")[0]

        def word(found):
            name = re.search(r"(\w+)>", found[0])[1]
            return self.words.get(f"{noun}.{name}") or self.words.get(name, "1")

        return re.sub(r"\(\?P<\w+>[^)]*\)|<[^>]+>", word, text)

    def addresses(self):
        return {self.fill(text): pattern for text, pattern in patterns() if "<path:address>" not in text}
