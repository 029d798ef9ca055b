"""Releases of this program that the lab put to use."""

from labrecords.actions import releases
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.rows import Rows, posts
from labrecords.models import Release


class ReleaseRow(Row):
    class Meta:
        model = Release
        fields = stored_fields(Release)


class ReleaseBody(RowBody):
    class Meta:
        model = Release
        fields = typed_fields(Release)


class ReleaseViews(Rows):
    queryset = Release.objects.select_related("created_by")
    serializer_class = ReleaseRow
    lookup_field = "pk"
    filters = {"program": "program", "analysis": "analysis"}

    create = posts(releases.put_to_use, ReleaseBody, ReleaseRow)
