"""What a signature covers: bytes that another program writes too, and a digest that the database computes alike."""

import hashlib
from datetime import UTC, datetime, timedelta, timezone

import pytest
from django.db import connection
from hypothesis import given, settings
from hypothesis import strategies as st

from labrecords import content
from labrecords.models.digest import digest_in_sql

WHEN = datetime(2026, 3, 2, 9, 0, 0, 7, tzinfo=UTC)
FACTS = {
    "assessment": 3,
    "version": 1,
    "content_sha256": "ab",
    "person": 7,
    "username": "oda",
    "name": "Oda Ex",
    "role": "reviewer",
    "meaning": "review",
    "signed_at": content.instant(WHEN),
}


def test_canonical_bytes_are_sorted_without_spaces_in_utf_8():
    """hand: keys in code-point order at every depth, no blanks, signs as they are."""
    assert content.canonical({"b": [1.5, None, True], "a": {"ω": "°", "n": "x"}}) == (
        '{"a":{"n":"x","ω":"°"},"b":[1.5,null,true]}'.encode()
    )
    with pytest.raises(ValueError, match="JSON compliant"):
        content.canonical(float("nan"))


def test_digest_is_that_of_a_text_written_by_hand():
    """hand: the text as DEVELOPERS.md describes it."""
    text = (
        '{"assessment":3,"content_sha256":"ab","meaning":"review","name":"Oda Ex","person":7,"role":"reviewer",'
        '"signed_at":"2026-03-02T09:00:00.000007Z","username":"oda","version":1}'
    )
    assert content.signature_digest(FACTS) == hashlib.sha256(text.encode()).hexdigest()
    assert content.signature_digest(FACTS | {"at": "printed beside it"}) == content.signature_digest(FACTS)


@pytest.mark.parametrize("name", content.SIGNED_FACTS)
def test_digest_covers_every_fact(name):
    assert content.signature_digest(FACTS | {name: "another"}) != content.signature_digest(FACTS)


def test_same_instant_of_any_zone_is_written_alike():
    there = WHEN.astimezone(timezone(timedelta(hours=5, minutes=30)))
    assert content.instant(there) == content.instant(WHEN) == "2026-03-02T09:00:00.000007Z"


def test_number_and_date_of_a_report_are_no_part_of_what_was_signed():
    draft = {"runs": [1], "report": {"amends": None}}
    issued = {"runs": [1], "report": {"amends": None, "number": "QR-26-0001", "signatures": []}}
    other = {"runs": [1], "report": {"amends": {"number": "QR-26-0001"}}}
    assert content.content_sha256(draft) == content.content_sha256(issued)
    assert content.content_sha256(draft) != content.content_sha256(other)


@pytest.mark.django_db
@settings(max_examples=60, deadline=None)
@given(
    name=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40),
    version=st.integers(1, 10**6),
    when=st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)),
)
def test_database_computes_the_same_digest_for_any_name_and_time(name, version, when):
    """independent: PostgreSQL's own JSON text and SHA-256 against Python's."""
    facts = FACTS | {"name": name, "version": version, "signed_at": content.instant(when.replace(tzinfo=UTC))}
    row = (
        "SELECT 3::bigint AS assessment_id, 'ab' AS content_sha256, 'review' AS meaning, %s AS printed_name, "
        "7::bigint AS person_id, 'reviewer' AS role, %s::timestamptz AS signed_at, 'oda' AS username, %s AS version"
    )
    with connection.cursor() as cursor:
        # Only the expression under test is put into the text.
        sql = f"SELECT {digest_in_sql('row')} FROM ({row}) AS row"  # noqa: S608
        cursor.execute(sql, [name, when.replace(tzinfo=UTC), version])
        assert cursor.fetchone()[0] == content.signature_digest(facts)
