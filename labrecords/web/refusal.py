"""A refusal that no form caught becomes a page in the action's words."""

from django.db import DataError
from django.http import Http404
from django.shortcuts import render

from labrecords.errors import MistypedCode, Refusal, UnknownCode, ValueRefused


def _is_of_the_api(request):
    return request.path.startswith("/api/")  # it answers in its own shape (labrecords/api/refusals.py)


def refused(request, refusal):
    status = 404 if isinstance(refusal, UnknownCode | MistypedCode) else refusal.status
    answer = render(request, "labrecords/refused.html", {"refusal": refusal}, status=status)
    for name, value in refusal.headers.items():
        answer.headers[name] = value
    return answer


class RefusalPage:
    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        # No code holds a NUL, and PostgreSQL would answer with an error instead of “not found”.
        has_nul = "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", "")
        if has_nul and not _is_of_the_api(request):
            raise Http404
        return self.get_response(request)

    def process_exception(self, request, exception):
        if _is_of_the_api(request):
            return None
        if isinstance(exception, DataError) and "NUL" in str(exception):
            # Forms refuse it by themselves; this one was read from the post without a form.
            exception = ValueRefused(label="Text", value="NUL", rule="is no sign of a text")
        return refused(request, exception) if isinstance(exception, Refusal) else None
