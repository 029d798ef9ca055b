"""Recipes and their frozen revisions; what a step plans follows from the declaration of its kind."""

from rest_framework import serializers

from labrecords.actions import recipes
from labrecords.api.bodies import Body, Row, RowBody, stored_fields
from labrecords.api.fields import Entered, Whole
from labrecords.api.rows import Rows, posts
from labrecords.api.shapes import Shape
from labrecords.entry import number
from labrecords.errors import UnknownCode, ValueRefused
from labrecords.models import Recipe, RecipeRevision, RecipeStep
from labrecords.processes import KINDS
from labrecords.visibility import visible


class Planned(Shape):
    """What a step plans of one value: a number with or without its tolerance, or a text."""

    value = Entered(required=False)
    tolerance = Entered(required=False, allow_null=True)
    text = serializers.CharField(required=False)


class StepRow(Row):
    name = serializers.CharField(read_only=True)
    planned = serializers.DictField(child=Planned())
    cautions = serializers.ListField(child=serializers.CharField(), source="declaration.cautions", read_only=True)

    class Meta:
        model = RecipeStep
        fields = ("order", "kind", "title", "instruction")


class RevisionRow(Row):
    steps = StepRow(many=True, read_only=True)

    class Meta:
        model = RecipeRevision
        fields = stored_fields(RecipeRevision, "id", "recipe")


class RecipeRow(Row):
    revisions = RevisionRow(many=True, read_only=True)

    class Meta:
        model = Recipe
        fields = stored_fields(Recipe)


class PlannedBody(Body, Planned):
    pass


class StepBody(RowBody):
    kind = serializers.CharField(help_text="Key of a step kind, as under /api/step-kinds/.")
    planned = serializers.DictField(
        child=PlannedBody(), required=False, help_text="By the keys that the kind declares."
    )

    class Meta:
        model = RecipeStep
        fields = ("title", "instruction")

    def validate(self, said):
        kind = KINDS.get(said["kind"])
        if kind is not None:  # an unknown kind is refused by the action
            said["planned"] = {key: _planned(kind.field(key), entry) for key, entry in said.get("planned", {}).items()}
        return said


class RecipeBody(RowBody):
    steps = StepBody(many=True)
    note = serializers.CharField(required=False, allow_blank=True)

    class Meta:
        model = Recipe
        fields = ("code", "title", "project")


class ReviseRecipe(Body):
    steps = StepBody(many=True)


class RecipeViews(Rows):
    queryset = Recipe.objects.select_related("project", "created_by").prefetch_related(
        "revisions__steps", "revisions__created_by"
    )
    serializer_class = RecipeRow
    filters = {
        "title": "title__icontains",
        "project": "project__code__iexact",
        "step_kind": lambda queryset, kind: queryset.filter(revisions__steps__kind=kind).distinct(),
    }

    create = posts(recipes.create, RecipeBody, RecipeRow, owner="recipe")
    revise = posts(recipes.revise, ReviseRecipe, RecipeRow, row="recipe", owner="recipe")


class NamedRevision(serializers.Serializer):
    """Fields that name a recipe's revision; the newest one where no number is given."""

    recipe = serializers.CharField()
    revision = Whole(low=1, required=False, help_text="Number of the revision; without it the newest.")

    def validate(self, said):
        code, asked = said.pop("recipe"), said.pop("revision", None)
        revisions = visible(RecipeRevision.objects.filter(recipe__code__iexact=code), self.context.get("by"))
        found = revisions.filter(number=asked).first() if asked else revisions.last()
        if found is None:
            raise UnknownCode(field="recipe", noun="recipe revision", value=f"{code} {asked}" if asked else code)
        return super().validate(said) | {"recipe_revision": found}


def typed_value(field, value):
    """A step's value as its declaration wants it: text, or a number read strictly."""
    return str(value) if field.kind == "text" else number(value, field=field.key, label=field.title)


def _planned(field, entry):
    wanted = {"text"} if field.kind == "text" else {"value", "tolerance"}
    main = "text" if field.kind == "text" else "value"
    if set(entry) - wanted or entry.get(main) in (None, ""):
        rule = f"is planned as {', '.join(sorted(wanted))}"
        raise ValueRefused(field=field.key, label=field.title, value=", ".join(sorted(entry)), rule=rule)
    return {name: typed_value(field, value) for name, value in entry.items()}
