"""The guided study: three horses, five remounts, and the error that replaces the default."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from horses.models import Horse, RepeatabilityStudy
from horses.selectors.repeatability import measuring_error
from practice.models import User
from tests.factories import make_horse, make_practice

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


@pytest.fixture
def study() -> RepeatabilityStudy:
    return RepeatabilityStudy.objects.create(measured_on=date(2026, 5, 1))


def repeats(horse: Horse, **changed: str) -> dict[str, str]:
    left = {f"left_{i}": str(150 + i) for i in range(1, 6)}
    right = {f"right_{i}": str(148 + i) for i in range(1, 6)}
    return {"horse": str(horse.pk)} | left | right | changed


def test_a_study_is_started_and_horses_are_added(page: Client) -> None:
    page.post(reverse("study_list"), {"measured_on": "2026-05-01", "note": "new curve"})
    study = RepeatabilityStudy.objects.get()
    horse = make_horse()
    page.post(reverse("study_detail", args=(study.pk,)), repeats(horse))
    assert study.values.count() == 10
    text = page.get(reverse("study_detail", args=(study.pk,))).content.decode()
    assert "2 more to go" in text
    assert "too few repeats" not in text  # ten remounts of two sides give eight degrees of freedom


def test_the_study_replaces_the_default_everywhere(page: Client, study: RepeatabilityStudy) -> None:
    assert not measuring_error().is_own
    for _ in range(3):
        page.post(reverse("study_detail", args=(study.pk,)), repeats(make_horse()))
    error = measuring_error()
    assert error.is_own
    # Values 151 to 155: variance 2.5 within each horse and side.
    assert error.half_width_mm == pytest.approx(1.96 * (2 * 2.5) ** 0.5)
    assert error.dip_mm == 3.0  # not studied
    assert "the practice&#x27;s own study of 01 May 2026" in (
        page.get(reverse("study_list")).content.decode()
    )


def test_a_value_is_corrected_and_taken_out(page: Client, study: RepeatabilityStudy) -> None:
    horse, url = make_horse(), reverse("study_detail", args=(study.pk,))
    page.post(url, repeats(horse))
    form = page.get(url, {"horse": horse.pk}).context["form"]
    assert form["left_1"].value() == "151"
    page.post(url, repeats(horse, left_1="140", left_2=""))
    values = {r.remount: r.value_mm for r in study.values.filter(quantity="left")}
    assert values == {1: 140, 3: 153, 4: 154, 5: 155}


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"left_1": "wide"}, "wide"), ({"left_1": "900"}, "900"), ({"horse": "0"}, "151")],
)
def test_what_cannot_be_read_is_kept_and_nothing_stored(
    page: Client, study: RepeatabilityStudy, changed: dict[str, str], words: str
) -> None:
    url = reverse("study_detail", args=(study.pk,))
    text = page.post(url, repeats(make_horse()) | changed).content.decode()
    assert words in text
    assert 'class="error"' in text
    assert not study.values.exists()


def test_an_empty_sheet_is_refused(page: Client, study: RepeatabilityStudy) -> None:
    url = reverse("study_detail", args=(study.pk,))
    text = page.post(url, {"horse": str(make_horse().pk)}).content.decode()
    assert "Nothing is entered yet" in text


def test_a_study_of_tomorrow_is_refused(page: Client) -> None:
    text = page.post(reverse("study_list"), {"measured_on": "2999-01-01"}).content.decode()
    assert "in the future" in text
    assert not RepeatabilityStudy.objects.exists()
