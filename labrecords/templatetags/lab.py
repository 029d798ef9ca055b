"""What templates ask of the records: may this person, how is this number written."""

from django import template

from labrecords import access

register = template.Library()


@register.filter
def may(person, verb):
    """Whether to show the button of a verb; the action itself checks again."""
    return getattr(person, "is_authenticated", False) and access.may(person, verb)


@register.filter
def plain(number):
    """A stored number as short as it is exact: 1600.0 is 1600, nothing is a dash."""
    return "–" if number is None else f"{number:.10g}".replace("-", "−")
