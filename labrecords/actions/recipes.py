"""Recipes: created, and revised by writing the next revision whole."""

from labrecords import processes
from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import Recipe, RecipeRevision, RecipeStep
from labrecords.trail import verb


@verb
def create(*, by, why="new recipe", code, title, steps, project=None, note=""):
    """A recipe with its first revision. `steps`: dicts with kind, planned, and optionally title and instruction."""
    recipe = write(Recipe(code=code, title=title, project=project), by)
    return _revision(by, recipe, 1, steps, note)


@verb
def revise(*, by, why, recipe, steps):
    """The next revision; the reason says what changed and why, and is printed with it."""
    recipe = Recipe.objects.select_for_update(no_key=True).get(pk=recipe.pk)
    last = recipe.revisions.order_by("-number").first()
    return _revision(by, recipe, last.number + 1, steps, why)


def _revision(by, recipe, number, steps, note):
    if not steps:
        raise ValueRefused(
            field="steps", label="Steps", value="none", rule="is too few: a recipe has at least one step"
        )
    revision = write(RecipeRevision(recipe=recipe, number=number, note=note), by)
    for order, step in enumerate(steps, start=1):
        kind = processes.KINDS.get(step.get("kind"))
        if kind is None:
            raise ValueRefused(
                field="kind",
                label=f"Step {order}",
                value=step.get("kind"),
                rule="is no declared kind of step",
            )
        planned = kind.checked_plan(step.get("planned", {}))
        write(
            RecipeStep(
                revision=revision,
                order=order,
                kind=kind.key,
                title=step.get("title", ""),
                instruction=step.get("instruction", ""),
                planned=planned,
            ),
            by,
        )
    return revision
