"""Writing and finding single rows: checked before written, refused in the lab's words."""

from django.core.exceptions import ValidationError

from labrecords.errors import UnknownCode, ValueRefused


def write(row, by=None):
    """Check the row by its model's rules, then store it; a broken rule becomes a refusal that names the field."""
    if by is not None and row.created_by_id is None:
        row.created_by = by
    try:
        # created_by is set here, database defaults and constraints by the database itself.
        row.full_clean(exclude=["created_by", "created_at"])
    except ValidationError as problem:
        field, messages = next(iter(problem.message_dict.items()))
        if field == "__all__":
            raise ValueRefused(field="", label=str(type(row)._meta.verbose_name).capitalize(), value=str(row), rule=f": {messages[0]}") from None
        model_field = row._meta.get_field(field)
        raise ValueRefused(
            field=field,
            label=str(model_field.verbose_name).capitalize(),
            value=getattr(row, model_field.attname, ""),
            rule=f"was refused: {messages[0]}",
        ) from None
    row.save()
    return row


def find(model, code, *, field="", noun="", **also):
    """The row with this code, or UnknownCode."""
    if isinstance(code, model):
        return code
    text = str(code or "").strip()
    row = model.objects.filter(code__iexact=text, **also).first() if text else None
    if row is None:
        raise UnknownCode(field=field or model._meta.model_name, noun=noun or str(model._meta.verbose_name), value=text)
    return row
