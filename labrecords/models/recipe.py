"""Recipes and their numbered revisions. A revision is written whole and never changed: a change is the next one."""

import pghistory
from django.db import models

from labrecords import processes
from labrecords.models.laboratory import Project
from labrecords.models.record import Record, between, frozen, not_empty


@pghistory.track()
class Recipe(Record):
    PROJECT = "project"

    code = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=200)
    project = models.ForeignKey(Project, models.PROTECT, null=True, blank=True, related_name="recipes")

    class Meta(Record.Meta):
        ordering = ["code"]
        constraints = [not_empty("recipe_coded", "code")]

    def __str__(self):
        return f"{self.code} {self.title}"


@pghistory.track()
class RecipeRevision(Record):
    PROJECT = "recipe__project"

    recipe = models.ForeignKey(Recipe, models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    note = models.TextField("what changed and why", blank=True)

    class Meta(Record.Meta):
        ordering = ["recipe__code", "number"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "number"], name="reciperevision_numbered_once"),
            between("reciperevision_number", "number", 1, 1e6),
        ]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.recipe.code} revision {self.number}"

    @property
    def is_textured(self):
        return any(step.declaration.makes_texture for step in self.steps.all())


@pghistory.track()
class RecipeStep(Record):
    PROJECT = "revision__recipe__project"

    revision = models.ForeignKey(RecipeRevision, models.PROTECT, related_name="steps")
    order = models.PositiveIntegerField()
    kind = models.CharField(max_length=40, choices=processes.choices)
    title = models.CharField(max_length=120, blank=True)
    instruction = models.TextField(blank=True)
    # {field key: {"value": 97.0, "tolerance": 2.0}} or {"text": "…"}; label and unit are the declaration's.
    planned = models.JSONField(default=dict, blank=True)

    class Meta(Record.Meta):
        ordering = ["revision", "order"]
        constraints = [models.UniqueConstraint(fields=["revision", "order"], name="recipestep_ordered_once")]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"{self.order} {self.name}"

    @property
    def declaration(self):
        return processes.KINDS[self.kind]

    @property
    def name(self):
        return self.title or self.declaration.title

    @property
    def planned_rows(self):
        """One row a planned value: key, label, unit, value or text, low and high of its tolerance."""
        kind = self.declaration
        return [kind.planned_row(item.key, self.planned[item.key]) for item in kind.fields if item.key in self.planned]
