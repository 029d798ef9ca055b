"""The digest of a signature as the database computes it: `labrecords.content.signature_digest` in SQL."""

from labrecords import content


def digest_in_sql(row: str) -> str:
    """An SQL expression over a row of labrecords_signature (an alias or NEW)."""
    own = {
        "assessment": f"{row}.assessment_id::text",
        "person": f"{row}.person_id::text",
        "version": f"{row}.version::text",
        "name": f"to_json({row}.printed_name::text)::text",
        "signed_at": f"to_json(to_char({row}.signed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"'))::text",
    }
    parts = [
        f"""'"{name}":' || {own.get(name, f"to_json({row}.{name}::text)::text")}"""
        for name in sorted(content.SIGNED_FACTS)
    ]
    text = " || ',' || ".join(parts)
    return f"encode(sha256(convert_to('{{' || {text} || '}}', 'UTF8')), 'hex')"
