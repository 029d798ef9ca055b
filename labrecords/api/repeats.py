"""POST requests that may safely be sent again: the header `Idempotency-Key`.

As in the IETF's draft “The Idempotency-Key HTTP Header Field” (draft-ietf-httpapi-idempotency-key-header): a string
that the sender makes anew for each request, in quotation marks; they may be left out here. The same key with another
request is refused with 422. Where the draft answers 409 while the first one is at work, the second waits and gets the
first one's answer. Answers are kept for seven days.
"""

from __future__ import annotations

import hashlib
import json
import re
from functools import partial

from django.http import HttpResponse
from django.utils.crypto import salted_hmac
from drf_spectacular.utils import OpenApiParameter
from rest_framework.renderers import JSONRenderer

from labrecords.actions import requests
from labrecords.errors import ValueRefused

HEADER, REPLAYED = "Idempotency-Key", "Idempotency-Replayed"
KEY = OpenApiParameter(
    HEADER,
    str,
    OpenApiParameter.HEADER,
    description="Chosen anew by the sender for each request; sent again with the same key, it is answered as before.",
)


class Repeatable:
    """A view whose POST takes the header. Put before the other parents."""

    keeps_answers = True  # false where the answer is a secret that must not be stored

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        handler = getattr(self, "post", None)
        if request.method == "POST" and handler and self.keeps_answers and HEADER in request.headers:
            self.post = partial(_once, handler, _key(request))


def _once(handler, key, request, *args, **kwargs):
    with requests.once(by=request.user, key=key, digest=_digest(request)) as claim:
        if claim.is_answered:
            answer = HttpResponse(claim.body, status=claim.status, content_type="application/json")
            answer[REPLAYED] = "true"
            return answer
        answer = handler(request, *args, **kwargs)
        claim.status, claim.body = answer.status_code, JSONRenderer().render(answer.data).decode()
        return answer


def _key(request):
    said = request.headers[HEADER].strip()
    key = said[1:-1] if len(said) > 1 and said[0] == said[-1] == '"' else said
    if not re.fullmatch(r"[!#-\[\]-~]{1,200}", key):
        rule = "is not 1 to 200 visible ASCII signs without quotation marks and backslashes"
        raise ValueRefused(field=HEADER, label=HEADER, value=said, rule=rule)
    return key


def _digest(request):
    """Of method, address and what is said. With the server's secret, because a body may hold a password."""
    data = request.data
    said = data if isinstance(data, bytes) else json.dumps(_plain(data), sort_keys=True, default=_of_file).encode()
    whole = b"\n".join([request.method.encode(), request.get_full_path().encode(), said])
    return salted_hmac("labrecords.api.repeats", whole, algorithm="sha256").hexdigest()


def _plain(data):
    return dict(data.lists()) if hasattr(data, "lists") else data


def _of_file(file):
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()
