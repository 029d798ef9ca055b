"""Which verb opens a page: that of its noun. Asked before every view, so that a page cannot forget to ask.

A noun is the name of the module of pages; where the table of roles calls it otherwise, the module says so as `NOUN`,
or a single view as its attribute `noun`.
`NOUN = None` opens a module to everybody who is signed in. A page that no module of `urls.NOUNS` holds opens to nobody.
"""

from functools import cache

from labrecords import access, visibility
from labrecords.errors import NotAllowed, StartPasswordOnly
from labrecords.web.refusal import refused


class Doors:
    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs):
        if not request.user.is_authenticated or is_of_the_api(view):
            return None
        visibility.remember(request.user)
        try:
            check(request.user, view)
        except (NotAllowed, StartPasswordOnly) as refusal:
            return refused(request, refusal)
        return None


def is_of_the_api(view):
    return hasattr(view, "cls")  # REST framework's views ask for themselves (labrecords/api/admission.py)


def check(person, view) -> None:
    """Refuse with NotAllowed unless the person's role opens the view."""
    verb = verb_of(view)
    if verb:
        access.check(person, verb)


def may_open(person, name) -> bool:
    """Whether the page of this name is there and open to the person."""
    verb = _verbs_by_name().get(name, "unknown.look")
    return verb is None or access.may(person, verb)


def verb_of(view):
    """The verb that opens a view; None for one that is open to everybody who is signed in."""
    return _verbs().get(view, "unknown.look")


@cache
def _verbs():
    return {pattern.callback: verb for pattern, verb in _pages()}


@cache
def _verbs_by_name():
    return {pattern.name: verb for pattern, verb in _pages()}


def _pages():
    """(pattern, verb) of every page."""
    from labrecords.web.urls import urlpatterns  # the pages' modules may ask for this one

    for resolver in urlpatterns:
        module = resolver.urlconf_module
        of_module = getattr(module, "NOUN", module.__name__.rpartition(".")[2])
        for pattern in module.urlpatterns:
            noun = getattr(pattern.callback, "noun", of_module)
            yield pattern, noun and f"{noun}.look"
