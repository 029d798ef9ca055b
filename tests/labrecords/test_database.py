"""DATABASE_URL is read with care. The embedded server's own tests are in tests/labrecords/postgresql/."""

from pathlib import Path

import pytest

from labrecords import database
from labrecords.errors import SettingRefused


def test_address_is_read_with_percent_signs_ipv6_and_options():
    # hand: RFC 3986 percent-decoding of p%40ss%2Fw is p@ss/w; the brackets are no part of an IPv6 address
    settings = database.connection_settings("postgresql://ann:p%40ss%2Fw@[::1]:5433/lab?sslmode=require", Path("/x"))
    assert settings.pop("ENGINE") == "labrecords.postgresql"
    assert settings == {
        "NAME": "lab",
        "USER": "ann",
        "PASSWORD": "p@ss/w",
        "HOST": "::1",
        "PORT": "5433",
        "OPTIONS": {"sslmode": "require"},
    }


@pytest.mark.parametrize(
    "url",
    [
        "mysql://u:secret@h/d",
        "lab",
        "postgres://u:secret@h:port/d",
        "postgres://u:secret@h:70000/d",
        "postgres://u:secret@h/",
        "postgres://u:secret@h/d?no_such_option=1",
        "postgres://u:sec%zzret@h/d",
        "postgres://h/d?user=u&password=secret&nonsense=1",
    ],
)
def test_bad_address_is_refused_without_showing_the_password(url):
    with pytest.raises(SettingRefused) as refusal:
        database.connection_settings(url, Path("/x"))
    assert "DATABASE_URL" in str(refusal.value)
    assert "secret" not in str(refusal.value)
    assert "sec%zzret" not in str(refusal.value)
