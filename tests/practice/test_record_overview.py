"""The overview of a horse's visit and finishing the visit."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fitting.services.checks import record_safety_check
from fitting.services.verdicts import sign_verdict
from practice.models import User, Visit
from practice.selectors.recording import recorded_for
from practice.selectors.steps import all_steps
from tests.factories import (
    make_horse,
    make_measurement,
    make_pairing,
    make_saddle,
    make_soreness_check,
    make_visit,
)
from tests.practice.recording_site import Site, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(signed_in: Callable[[User], Client], fitter: User) -> Site:
    return make_site(signed_in(fitter), temperament="Bites when girthed")


def _states(site: Site) -> dict[str, str]:
    return {step.slug: step.state for step in all_steps(recorded_for(site.visit_horse))}


def test_everything_is_empty_at_first(site: Site) -> None:
    assert set(_states(site).values()) == {"empty"}
    page = site.client.get(site.home).content.decode()
    assert "Bites when girthed" in page
    assert "Nothing is on record before this visit." in page


def test_each_step_says_how_far_it_is(site: Site) -> None:
    measurement = make_measurement(site.horse, visit=site.visit)
    measurement.sections.filter(station="S3", trace=2).delete()
    make_soreness_check(site.horse, {("BS", "L"): None}, visit=site.visit)
    site.post("body", {"girth_mm": "nonsense"})
    states = _states(site)
    assert states["body"] == "to_correct"
    assert (states["s1"], states["s3"], states["lines"]) == ("done", "begun", "done")
    assert states["soreness"] == "done"
    assert states["verdict"] == "empty"


def test_an_unfinished_feeling_over_is_begun_not_done(site: Site) -> None:
    check = make_soreness_check(site.horse, visit=site.visit)
    check.scores.filter(site="LO").delete()
    assert _states(site)["soreness"] == "begun"


def test_what_was_found_last_time_stands_beside(site: Site, fitter: User) -> None:
    earlier = make_visit([site.horse], starts_at=datetime(2025, 11, 5, 9, tzinfo=UTC))
    make_measurement(site.horse, visit=earlier, measured_on=earlier.starts_at.date())
    make_soreness_check(site.horse, {("BS", "L"): 3}, visit=earlier, checked_at=earlier.starts_at)
    sign_verdict(
        pairing=make_pairing(site.horse, saddle=site.pairing.saddle),
        visit=earlier,
        word="rest_first",
        confidence="felt",
        signed_by=fitter,
        signed_at=earlier.starts_at,
    )
    page = site.client.get(site.home).content.decode()
    assert "Rest the back first" in page
    assert "73 in" in page
    assert "Behind the shoulder blade, left: 3" in page


def test_an_unsafe_saddle_and_a_sore_back_stand_above(site: Site) -> None:
    record_safety_check(
        saddle=site.pairing.saddle,
        visit=site.visit,
        checked_on=site.visit.starts_at.date(),
        items={"tree": "fail"},
        result="unsafe",
    )
    make_soreness_check(site.horse, {("SP", "M"): 2, ("BS", "L"): 3}, visit=site.visit)
    page = site.client.get(site.home).content.decode()
    assert "Saddle unsafe" in page
    assert "veterinarian first" in page
    assert "Rest the back first" in page


def test_two_strong_reactions_running_send_to_the_veterinarian(site: Site) -> None:
    earlier = datetime(2026, 5, 1, 9, tzinfo=UTC)
    make_soreness_check(site.horse, {("BS", "L"): 3}, checked_at=earlier)
    page = site.client.get(site.home).content.decode()
    assert "veterinarian first" not in page
    make_soreness_check(site.horse, {("BS", "L"): 3}, visit=site.visit)
    page = site.client.get(site.home).content.decode()
    assert "veterinarian first" in page


def test_a_saddle_not_in_use_that_day_is_not_offered(site: Site) -> None:
    old = make_pairing(
        site.horse,
        from_date=datetime(2025, 1, 1, tzinfo=UTC).date(),
        to_date=datetime(2025, 6, 1, tzinfo=UTC).date(),
    )
    page = site.client.get(site.home).content.decode()
    assert site.pairing.saddle.tag in page
    assert old.saddle.tag not in page


def test_finishing_lists_what_is_empty_and_allows_it(site: Site) -> None:
    page = site.client.get(f"/visits/{site.visit.pk}/finish/").content.decode()
    assert "Soreness by hand" in page
    site.client.post(f"/visits/{site.visit.pk}/finish/")
    assert Visit.objects.get().state == "recorded"


def test_a_cancelled_visit_cannot_be_finished(site: Site) -> None:
    Visit.objects.update(state="cancelled")
    assert site.client.post(f"/visits/{site.visit.pk}/finish/").status_code == 404


def _queries(site: Site, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert site.client.get(address).status_code == 200
    return len(queries)


@pytest.mark.parametrize("step", ["", "soreness/", "s1/"])
def test_queries_do_not_grow_with_saddles_and_visits(site: Site, step: str) -> None:
    address = site.home + step
    before = _queries(site, address)
    for day in (1, 2, 3):
        starts_at = datetime(2026, 4, day, 9, tzinfo=UTC)
        earlier = make_visit([site.horse], starts_at=starts_at)
        make_measurement(site.horse, visit=earlier, measured_on=starts_at.date())
        make_soreness_check(site.horse, visit=earlier, checked_at=starts_at)
        make_pairing(site.horse)
    one_more = _queries(site, address)
    for day in (4, 5, 6):
        starts_at = datetime(2026, 4, day, 9, tzinfo=UTC)
        earlier = make_visit([site.horse], starts_at=starts_at)
        make_measurement(site.horse, visit=earlier, measured_on=starts_at.date())
        make_soreness_check(site.horse, visit=earlier, checked_at=starts_at)
        make_pairing(site.horse)
    assert _queries(site, address) == one_more
    assert before <= one_more


def test_another_horse_of_the_visit_is_one_tap_away(site: Site) -> None:
    other = make_horse(barn_name="Pennywhistle Fern")
    site.visit.visit_horses.create(horse=other)
    page = site.client.get(site.home).content.decode()
    assert f"/visits/{site.visit.pk}/horses/{other.pk}/" in page


def test_a_saddle_put_on_from_here_comes_back_here(site: Site) -> None:
    page = site.client.get(site.home).content.decode()
    address = f"/horses/{site.horse.pk}/pairings/add/?from=2026-05-14&amp;next={site.home}"
    assert address in page
    data = {"saddle": make_saddle().pk, "from_date": "2026-05-14", "tip_behind_blade_mm": "1"}
    response = site.client.post(address.replace("&amp;", "&"), data)
    assert response["Location"] == site.home
    assert site.horse.pairings.count() == 2


def test_coming_back_never_leads_to_another_site(site: Site) -> None:
    data = {"saddle": make_saddle().pk, "from_date": "2026-05-14", "tip_behind_blade_mm": "1"}
    address = f"/horses/{site.horse.pk}/pairings/add/?next=https://elsewhere.example/"
    assert site.client.post(address, data)["Location"] == f"/horses/{site.horse.pk}/"
