"""Who may open and change what is recorded."""

from collections.abc import Callable

import pytest
from django.test import Client

from practice.models import User, Visit
from tests.factories import make_horse, make_pairing, make_visit
from tests.practice.recording_site import STEPS, make_site

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.mark.parametrize("step", STEPS)
def test_the_fitter_sees_every_step(signed_in: SignIn, fitter: User, step: str) -> None:
    response = make_site(signed_in(fitter)).get(step)
    assert response.status_code == 200
    assert b"Corporal Thistle" in response.content


@pytest.mark.parametrize("step", STEPS)
def test_a_reader_sees_and_cannot_change(signed_in: SignIn, reader: User, step: str) -> None:
    site = make_site(signed_in(reader))
    page = site.get(step)
    assert page.status_code == 200
    assert b"Read only" in page.content
    assert b"hx-post" not in page.content
    assert site.post(step, {"sign": "yes", "word": "carry_on"}).status_code == 403
    assert Visit.objects.get().state == "booked"


@pytest.mark.parametrize("step", STEPS)
def test_to_a_stranger_nothing_is_there(signed_in: SignIn, stranger: User, step: str) -> None:
    site = make_site(signed_in(stranger))
    assert site.get(step).status_code == 404
    assert site.post(step, {}).status_code == 404


def test_signed_out_is_sent_to_sign_in() -> None:
    response = make_site(Client()).get("body")
    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("step", STEPS)
def test_a_horse_of_another_visit_is_not_there(signed_in: SignIn, fitter: User, step: str) -> None:
    site = make_site(signed_in(fitter))
    other = make_horse(barn_name="Pennywhistle Fern")
    make_visit([other])
    make_pairing(other)
    site.horse = other
    assert site.get(step).status_code == 404
    assert site.post(step, {}).status_code == 404


def test_a_pairing_of_another_horse_is_not_there(signed_in: SignIn, fitter: User) -> None:
    site = make_site(signed_in(fitter))
    site.pairing = make_pairing(make_horse(barn_name="Anvil"))
    assert site.get("@bare").status_code == 404


def test_unknown_steps_are_left_to_other_pages(signed_in: SignIn, fitter: User) -> None:
    assert make_site(signed_in(fitter)).get("gallop").status_code == 404


def test_a_cancelled_visit_takes_nothing(signed_in: SignIn, fitter: User) -> None:
    site = make_site(signed_in(fitter))
    Visit.objects.update(state="cancelled")
    response = site.client.post(site.address("body"), {"girth_mm": "73"}, follow=True)
    assert b"cancelled" in response.content
    assert not site.horse.measurements.exists()
    assert Visit.objects.get().state == "cancelled"
