"""How a request's bytes are read."""

from __future__ import annotations

import math

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser, JSONParser

from labrecords.exchange.tidy import MOST_BYTES


class StrictJson(JSONParser):
    """JSON without NaN, infinities and characters that cannot be stored."""

    def parse(self, stream, media_type=None, parser_context=None):
        try:
            data = super().parse(stream, media_type, parser_context)
            _check(data)
        except RecursionError:
            raise ParseError("The JSON is nested too deeply.") from None
        return data


class CsvBytes(BaseParser):
    """A CSV file as the body, untouched: decoding is the import's business."""

    media_type = "text/csv"

    def parse(self, stream, media_type=None, parser_context=None):
        # One byte more than the import takes, so that the refusal of a larger file is the import's own.
        return stream.read(MOST_BYTES + 1)


def _check(data):
    if isinstance(data, dict):
        for name, value in data.items():
            _check(name)
            _check(value)
    elif isinstance(data, list):
        for value in data:
            _check(value)
    elif isinstance(data, float) and not math.isfinite(data):
        raise ParseError("A number is not finite.")
    elif isinstance(data, str) and ("\0" in data or any("\ud800" <= sign <= "\udfff" for sign in data)):
        raise ParseError("A text holds a character that cannot be stored.")
