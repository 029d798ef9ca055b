"""Recipes: listed, seen with all revisions, written, revised."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Max, Prefetch, Q
from django.shortcuts import redirect, render
from django.urls import path

from labrecords.actions import recipes
from labrecords.actions.rows import find
from labrecords.errors import Refusal
from labrecords.models import Batch, Property, Recipe, RecipeRevision
from labrecords.visibility import visible
from labrecords.web.forms import fields_of, form_of, offered, reason_field, show
from labrecords.web.recipe_changes import changes
from labrecords.web.recipe_steps import empty_step, rearranged_steps, stored_steps, typed_steps


def listed(request):
    words = request.GET.get("q", "")
    found = (
        visible(Recipe.objects.all(), request.user)
        .order_by("code")
        .select_related("project")
        .annotate(last=Max("revisions__number"), batch_count=Count("revisions__batches", distinct=True))
    )
    for word in words.split():
        found = found.filter(Q(code__icontains=word) | Q(title__icontains=word))
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    return render(request, "labrecords/recipes/list.html", {"page": page, "words": words})


def recipe(request, code):
    row = find(Recipe, code, by=request.user)
    made = Prefetch("batches", visible(Batch.objects.all(), request.user))
    revisions = list(row.revisions.select_related("created_by").prefetch_related("steps", made).order_by("number"))
    earlier = [None, *revisions[:-1]]
    shown = [
        {"revision": revision, "changes": changes(before, revision) if before else []}
        for before, revision in zip(earlier, revisions, strict=True)
    ]
    properties = Property.objects.filter(recipe=row).select_related("against_liquid", "against_lubricant")
    context = {"recipe": row, "shown": shown[::-1], "properties": list(properties)}
    return render(request, "labrecords/recipes/recipe.html", context)


NewHead = form_of(Recipe, "code", "title", "project", **fields_of(RecipeRevision, "note"))
NewHead.base_fields["note"].label = "Note"
ReviseHead = form_of(Recipe, why=reason_field("What changed and why"))


def new(request):
    return _edit(request, NewHead, lambda: [empty_step()], recipes.create, {"title": "New recipe"})


def revise(request, code):
    row = find(Recipe, code, by=request.user)
    last = row.revisions.order_by("-number").first()
    context = {"title": f"Revise {row.code}", "recipe": row, "last": last}
    return _edit(request, ReviseHead, lambda: stored_steps(last), recipes.revise, context, recipe=row)


def _edit(request, head_class, first_steps, action, context, **details):
    """Show, rearrange or store the steps of a recipe."""
    do = request.POST.get("do", "")
    if request.method != "POST":
        head, steps = head_class(), first_steps()
    elif do != "save":
        head, steps = head_class(initial=request.POST.dict()), rearranged_steps(request.POST, do)
    else:
        head, steps = head_class(request.POST), typed_steps(request.POST)
    offered(head, request.user)
    if request.method == "POST" and do == "save":
        revision = _stored(request, head, steps, action, details)
        if revision:
            messages.success(request, f"Stored: {revision}.")
            return redirect("recipe", revision.recipe.code)
    template = "_steps" if request.htmx and do != "save" else "edit"
    return render(request, f"labrecords/recipes/{template}.html", context | {"form": head, "steps": steps})


def _stored(request, head, steps, action, details):
    refused = [str(number) for number, step in enumerate(steps, start=1) if not step.is_valid()]
    if refused:
        head.add_error(None, f"Refused in step {', '.join(refused)}; the reason stands there.")
    if not head.is_valid():
        return None
    try:
        return action(by=request.user, steps=[step.cleaned_data for step in steps], **head.cleaned_data, **details)
    except Refusal as refusal:
        show(head, refusal)
        return None


urlpatterns = [
    path("recipes/", listed, name="recipes"),
    path("recipes/new/", new, name="recipe-new"),
    path("recipes/<path:code>/revise/", revise, name="recipe-revise"),
    path("recipes/<path:code>/", recipe, name="recipe"),
]
