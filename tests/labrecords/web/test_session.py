"""Nothing is seen without signing in."""

import pytest
from django.urls import reverse

from tests.factories import PASSWORD, make_person

pytestmark = pytest.mark.django_db


def test_sign_in_takes_the_name_in_any_case_and_sign_out_ends_it(client):
    person = make_person("operator")
    answer = client.post(reverse("sign-in"), {"username": f" {person.username.upper()} ", "password": PASSWORD})
    assert answer.status_code == 302
    assert client.session["_auth_user_id"] == str(person.pk)
    client.post(reverse("sign-out"))
    assert "_auth_user_id" not in client.session


def test_wrong_password_is_refused_in_words_and_the_name_is_kept(client):
    person = make_person("operator")
    answer = client.post(reverse("sign-in"), {"username": person.username, "password": "wrong"})
    assert "do not fit together" in answer.text
    assert f'value="{person.username}"' in answer.text
    assert "_auth_user_id" not in client.session


def test_disabled_person_cannot_sign_in(client):
    from labrecords.actions import people

    person = make_person("operator")
    people.disable(by=make_person("administrator"), why="left the lab", person=person)
    client.post(reverse("sign-in"), {"username": person.username, "password": PASSWORD})
    assert "_auth_user_id" not in client.session


def test_form_without_csrf_token_is_refused():
    from django.test import Client

    person = make_person("operator")
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(reverse("sign-in"), {"username": person.username, "password": PASSWORD})
    assert answer.status_code == 403
