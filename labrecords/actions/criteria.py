"""Specifications: criterion sets, each revision written whole and frozen."""

from analysis import CRITERION_KINDS, judge
from labrecords.actions.evidence.stored import record_for
from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import Criterion, CriterionRevision, CriterionSet
from labrecords.trail import verb


@verb
def create(*, by, why="new specification", code, title, fixed_on, when_inconclusive, criteria, project=None, note=""):
    """A criterion set with its first revision. `criteria`: dicts of the fields of Criterion."""
    criterion_set = write(CriterionSet(code=code, title=title, project=project), by)
    return _revision(by, criterion_set, 1, fixed_on, when_inconclusive, criteria, note)


@verb
def revise(*, by, why, criterion_set, fixed_on, when_inconclusive, criteria):
    criterion_set = CriterionSet.objects.select_for_update(no_key=True).get(pk=criterion_set.pk)
    last = criterion_set.revisions.order_by("-number").first()
    return _revision(by, criterion_set, last.number + 1, fixed_on, when_inconclusive, criteria, why)


def _revision(by, criterion_set, number, fixed_on, when_inconclusive, criteria, note):
    if not criteria:
        raise ValueRefused(field="criteria", label="Criteria", value="none", rule="is too few")
    revision = write(
        CriterionRevision(criterion_set=criterion_set, number=number, fixed_on=fixed_on,
                          when_inconclusive=when_inconclusive, note=note), by,
    )  # fmt: skip
    for order, fields in enumerate(criteria, start=1):
        kind = CRITERION_KINDS.get(fields.get("kind"))
        if kind is None:
            raise ValueRefused(
                field="kind", label="Kind of criterion", value=fields.get("kind"), rule="is not declared"
            )
        _check(write(Criterion(revision=revision, order=order, **fields), by))
    return revision


def _check(criterion):
    """Refuse what could not be judged later: an unknown parameter, one outside its bounds."""
    try:
        judge([record_for(criterion)], [])
    except ValueError as problem:
        rule = f"was refused: {problem}"
        raise ValueRefused(field="criteria", label="Criterion", value=criterion.label, rule=rule) from None
