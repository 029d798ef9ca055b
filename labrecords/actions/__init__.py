"""Verbs that write, one module a noun. Keyword-only, `by=` first; they return the row or refuse (labrecords.errors)."""
