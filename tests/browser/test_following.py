"""Between visits on a phone: an owner's one check by link, the film, and a chart's files."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from horses.models import Ride
from practice.services.recovery import ask_owner
from tests.browser import walk
from tests.factories import make_horse, make_measurement, make_practice, make_user

pytestmark = pytest.mark.django_db(transaction=True)


def test_an_owner_answers_one_check_on_a_phone(phone: Page) -> None:
    make_practice()
    horse = make_horse(barn_name="Corporal Thistle")
    ended = timezone.now() - timedelta(hours=24)
    ride = Ride.objects.create(horse=horse, ended_at=ended, hours=8)
    link = ask_owner(ride=ride, moment="next_day", created_by=make_user())
    phone.goto(reverse("recovery_answer", args=(link.token,)))
    expect(phone.get_by_role("heading", level=1)).to_have_text(
        "How is the back of Corporal Thistle?"
    )
    for calm in phone.locator('input[type=radio][value="0"]').all():
        calm.check(force=True)
    phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Thank you")
    check = ride.soreness_checks.get()
    assert check.scores.filter(score=0).count() == 10
    phone.reload()
    phone.goto(reverse("recovery_answer", args=(link.token,)))
    expect(phone.get_by_role("heading", level=1)).to_have_text("Answered already")


def test_the_film_moves_and_its_picture_and_numbers_are_files(phone: Page, tmp_path: Path) -> None:
    make_practice()
    make_user(username="odalys")
    horse, today = make_horse(), timezone.localdate()
    for days in (400, 200, 10):
        made = make_measurement(horse, measured_on=today - timedelta(days=days))
        for section in made.sections.all():
            section.points = [[d, w * (1 - days / 4000)] for d, w in section.points]
            section.save()
    walk.sign_in(phone, "odalys")
    phone.goto(reverse("through_time", args=(horse.pk,)))
    block = phone.locator(".chart-block").first
    block.scroll_into_view_if_needed()
    expect(block.locator(".slider-container")).to_be_visible()

    def reach() -> float:
        return float(block.locator(".chart").evaluate("node => Math.max(...node.data[11].x, 0)"))

    first = reach()
    block.locator(".chart").evaluate(
        "node => window.Plotly.animate(node, [node._transitionData._frames[2].name],"
        " {mode: 'immediate', frame: {duration: 0}})"
    )
    phone.wait_for_timeout(300)
    assert reach() > first
    block.locator("summary").click()
    for name, ending in (("Picture as PNG", ".png"), ("Numbers as CSV", ".csv")):
        with phone.expect_download() as waiting:
            block.get_by_role("button", name=name).click()
        saved = tmp_path / f"film{ending}"
        waiting.value.save_as(saved)
        assert waiting.value.suggested_filename == f"film{ending}"
    assert (tmp_path / "film.png").read_bytes().startswith(b"\x89PNG")
    lines = (tmp_path / "film.csv").read_text("utf-8-sig").splitlines()
    assert len(lines) == 4
    assert lines[0].startswith('"Day","S1 L')
