"""Writing and finding single rows: checked before written, refused in the lab's words."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from labrecords.errors import ChangedByOther, UnknownCode, ValueRefused
from labrecords.models import Coupon
from labrecords.visibility import visible


def write(row, by=None):
    """Store the row; what its fields or the database's rules do not take becomes a refusal that names the field."""
    if by is not None and row.created_by_id is None:
        row.created_by = by
    check_fields(row)
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as problem:
        raise _broken_rule(row, problem) from None
    return row


def check_fields(row):
    """Refuse what the row's fields do not take: text too long, an unknown choice, an impossible number."""
    # Rows that are pointed to were found before; what they must be is the database's to hold, like every other rule.
    relations = {field.name for field in row._meta.fields if field.is_relation}
    try:
        row.clean_fields(exclude=relations | {"created_at"})
    except ValidationError as problem:
        field, messages = next(iter(problem.message_dict.items()))
        raise _refused(row, field, messages[0]) from None


def now() -> datetime:
    """The time by the database's clock: what a record says of itself does not hang on the clock of this process."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        return cursor.fetchone()[0]


def hold(coupon_ids) -> list[Coupon]:
    """These coupons as they are stored, locked until the transaction ends.

    Whoever changes a coupon or what was measured on it takes this lock before any other, all coupons in one go and
    in one order: then nothing is written over and no two people wait for each other.
    """
    return list(Coupon.objects.filter(pk__in=coupon_ids).order_by("pk").select_for_update(no_key=True))


def last_change(row):
    """The row's last entry in the trail; its number says what a page was made from."""
    return row.events.select_related("pgh_context").order_by("-pgh_id").first()


def by_whom(event) -> dict[str, str]:
    """Who made an entry of the trail, and at what time of the lab."""
    when = timezone.localtime(event.pgh_created_at).strftime("%H:%M:%S")
    return {"who": event.pgh_context.metadata["who"], "when": when}


def refuse_if_changed(row, seen) -> None:
    """Refuse for a locked row that was changed after a page was made from it; nothing seen, nothing asked."""
    last = last_change(row)
    if seen not in (None, "", str(last.pgh_id)):
        raise ChangedByOther(what=f"{_noun(row)} {row}", **by_whom(last))


def find(model, code, *, by=None, field="", noun="", **also):
    """The row with this code, or UnknownCode. `by`: who wants to see it; without a person, what is open to the lab."""
    if isinstance(code, model):
        return code
    text = str(code or "").strip()
    rows = visible(model.objects.filter(**also), by)
    # Codes may differ in capitals only: the one that was written goes first.
    row = (rows.filter(code=text).first() or rows.filter(code__iexact=text).first()) if text else None
    if row is None:
        raise UnknownCode(field=field or model._meta.model_name, noun=noun or str(model._meta.verbose_name), value=text)
    return row


def _refused(row, field, message):
    model_field = row._meta.get_field(field)
    value = getattr(row, model_field.attname, "")
    return ValueRefused(
        field=field,
        label=str(model_field.verbose_name).capitalize(),
        value="" if value is None else value,
        rule=f"was refused: {message[:1].lower()}{message[1:].rstrip('.')}",
    )


def _broken_rule(row, problem):
    """The refusal for a rule of the database, found by the name PostgreSQL reports."""
    told = getattr(problem.__cause__, "diag", None)
    if told and told.column_name and not told.constraint_name:
        return _refused(row, _field_of(row, told.column_name), "it is missing")
    name = (told and told.constraint_name) or ""
    for constraint in row._meta.constraints:
        if constraint.name == name:
            return _of_constraint(row, constraint)
    for field in row._meta.fields:
        if field.unique and not field.primary_key and f"_{field.column}_" in name:
            return _refused(row, field.name, "it is taken already")
    return ValueRefused(label=_noun(row), value=row, rule=f"breaks the rule {name or problem}")


def _of_constraint(row, constraint):
    said = constraint.violation_error_message
    if said != constraint.default_violation_error_message:
        return ValueRefused(label=_noun(row), value=row, rule=f"was refused: {said}")
    fields = list(getattr(constraint, "fields", ()))
    if fields:
        return _refused(row, fields[-1], "it is there already")
    condition = getattr(constraint, "condition", None)
    named = [child[0].split("__")[0] for child in condition.children if isinstance(child, tuple)] if condition else []
    if len(set(named)) == 1:
        return _refused(row, named[0], "it is empty or outside what is possible")
    return ValueRefused(label=_noun(row), value=row, rule=f"breaks the rule {constraint.name}")


def _field_of(row, column):
    return next(field.name for field in row._meta.fields if field.column == column)


def _noun(row):
    return str(row._meta.verbose_name).capitalize()
