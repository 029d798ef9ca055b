"""Specifications: criterion sets in numbered, frozen revisions."""

from rest_framework import serializers

from analysis import CRITERION_KINDS
from labrecords.actions import criteria
from labrecords.api.bodies import Row, RowBody, stored_fields, typed_fields
from labrecords.api.fields import Code, Entered
from labrecords.api.rows import Rows, posts
from labrecords.entry import number
from labrecords.errors import ValueRefused
from labrecords.models import Criterion, CriterionRevision, CriterionSet, Project


class CriterionRow(Row):
    parameters = serializers.DictField(child=Entered())

    class Meta:
        model = Criterion
        fields = stored_fields(Criterion, "id", "revision", "created_at", "created_by")


class CriterionRevisionRow(Row):
    criteria = CriterionRow(many=True, read_only=True)

    class Meta:
        model = CriterionRevision
        fields = stored_fields(CriterionRevision, "id", "criterion_set")


class SpecificationRow(Row):
    revisions = CriterionRevisionRow(many=True, read_only=True)

    class Meta:
        model = CriterionSet
        fields = stored_fields(CriterionSet)


class CriterionBody(RowBody):
    kind = serializers.CharField(help_text="Key of a criterion kind, as under /api/criterion-kinds/.")
    parameters = serializers.DictField(
        child=Entered(),
        required=False,
        help_text="By the keys that the kind declares; others take its defaults.",
    )

    class Meta:
        model = Criterion
        fields = typed_fields(Criterion, "revision", "order", "kind", "parameters")

    def validate(self, said):
        kind = CRITERION_KINDS.get(said["kind"])
        if kind is not None:  # an unknown kind is refused by the action
            said["parameters"] = {
                key: _parameter(kind, key, value) for key, value in said.get("parameters", {}).items()
            }
        return said


class ReviseSpecification(RowBody):
    criteria = CriterionBody(many=True)

    class Meta:
        model = CriterionRevision
        fields = ("fixed_on", "when_inconclusive")


class SpecificationBody(ReviseSpecification):
    code = serializers.CharField()
    title = serializers.CharField()
    note = serializers.CharField(required=False, allow_blank=True)
    project = Code(Project, required=False, allow_null=True)

    class Meta(ReviseSpecification.Meta):
        pass


class SpecificationViews(Rows):
    queryset = CriterionSet.objects.select_related("project", "created_by").prefetch_related(
        "revisions__criteria__liquid", "revisions__created_by"
    )
    serializer_class = SpecificationRow
    filters = {
        "title": "title__icontains",
        "project": "project__code__iexact",
        "quantity": lambda queryset, key: queryset.filter(revisions__criteria__quantity=key).distinct(),
    }

    create = posts(criteria.create, SpecificationBody, SpecificationRow, owner="criterion_set")
    revise = posts(criteria.revise, ReviseSpecification, SpecificationRow, row="criterion_set", owner="criterion_set")


def _parameter(kind, key, value):
    """A parameter as the kind declares it: one of its choices, or a number read strictly."""
    declared = next((item for item in kind.parameters if item.key == key), None)
    if declared is None:
        rule = f"is no parameter of “{kind.title}”"
        raise ValueRefused(field="parameters", label="Parameter", value=key, rule=rule)
    if not declared.choices:
        value = number(value, field="parameters", label=declared.label)
    try:
        return declared.accept(value)
    except (TypeError, ValueError) as problem:
        rule = f"was refused: {problem}"
        raise ValueRefused(field="parameters", label=declared.label, value=value, rule=rule) from None
