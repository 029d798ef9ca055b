"""The lab's own numbered versions of the declared test methods."""

from rest_framework import serializers

from labrecords.actions import methods
from labrecords.api.bodies import Row, RowBody, stored_fields
from labrecords.api.fields import Entered, Whole
from labrecords.api.rows import Rows, posts
from labrecords.errors import UnknownCode
from labrecords.models import MethodVersion


class MethodVersionRow(Row):
    settings = serializers.DictField(child=Entered())

    class Meta:
        model = MethodVersion
        fields = stored_fields(MethodVersion)


class FixVersion(RowBody):
    method = serializers.CharField(help_text="Key of a declared method, as under /api/methods/.")
    settings = serializers.DictField(child=Entered(allow_null=True), help_text="By the keys that the method declares.")

    class Meta:
        model = MethodVersion
        fields = ("liquid", "drop_volume_ul", "note")


class MethodVersionViews(Rows):
    queryset = MethodVersion.objects.select_related("liquid", "created_by")
    serializer_class = MethodVersionRow
    lookup_field = "pk"
    filters = {"method": "method", "number": "number"}

    create = posts(methods.fix_version, FixVersion, MethodVersionRow)


class NamedVersion(serializers.Serializer):
    """Fields that name a method version; the newest one where no number is given."""

    method = serializers.CharField(help_text="Key of a declared method, as under /api/methods/.")
    method_version = Whole(low=1, required=False, help_text="Number of the lab's version; without it the newest.")

    def validate(self, said):
        key, number = said.pop("method"), said.pop("method_version", None)
        versions = MethodVersion.objects.filter(method=key)
        found = versions.filter(number=number).first() if number else versions.last()
        if found is None:
            name = f"{key} {number}" if number else key
            raise UnknownCode(field="method_version" if number else "method", noun="method version", value=name)
        return super().validate(said) | {"method_version": found}
