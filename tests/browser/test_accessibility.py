"""Every main page held to WCAG 2.2 AA by axe-core, at phone size and on a desk."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from fitting.services.evaluations import evaluate_now, start_evaluation
from fitting.services.verdicts import sign_verdict
from horses.models import RepeatabilityStudy, Ride
from practice.models import ShareLink
from practice.report.content import build_content, default_recipient
from practice.selectors.reports import records_for_report, visit_horse_or_404
from practice.services.shares import share_report
from tests.browser import walk
from tests.browser.conftest import DESK, PHONE, open_context
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_pairing,
    make_place,
    make_practice,
    make_soreness_check,
    make_user,
    make_visit,
)

pytestmark = pytest.mark.django_db(transaction=True)
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}}


def paths_of_a_recorded_visit() -> tuple[list[str], ShareLink]:
    """Make one horse with everything recorded and return the pages that show it."""
    make_practice()
    fitter = make_user(username="odalys")
    client, place = make_client(), make_place()
    horse = make_horse(owner=client, place=place)
    now = timezone.now()
    visit = make_visit(horses=[horse], client=client, place=place, fitter=fitter, starts_at=now)
    pairing = make_pairing(horse, from_date=now.date() - timedelta(days=9))
    measurement = make_measurement(horse, visit=visit, measured_on=now.date())
    make_soreness_check(horse, {("BS", "L"): 2, ("LO", "R"): None}, visit=visit, checked_at=now)
    evaluation = start_evaluation(pairing=pairing, measurement=measurement, visit=visit)
    evaluate_now(evaluation=evaluation)
    sign_verdict(
        pairing=pairing,
        visit=visit,
        word="small_changes",
        confidence="measured",
        signed_by=fitter,
        changes="Thinner pad",
    )
    records = records_for_report(visit_horse_or_404(visit.pk, horse.pk))
    content = build_content(records, recipient=default_recipient(records)).to_dict()
    link = share_report(visit_horse=records.visit_horse, content=content, created_by=fitter)
    ride = Ride.objects.create(horse=horse, ended_at=now, hours=6)
    study = RepeatabilityStudy.objects.create(measured_on=now.date())
    make_measurement(horse, measured_on=now.date() - timedelta(days=90))
    steps = ("", "history", "body", "soreness", "s1", "lines")
    pairing_steps = ("safety", "bare", "ridden", "evaluation", "verdict")
    return [
        "/",
        "/visits/",
        "/visits/book/",
        f"/visits/{visit.pk}/",
        "/horses/",
        f"/horses/{horse.pk}/",
        f"/horses/{horse.pk}/edit/",
        "/saddles/",
        f"/saddles/{pairing.saddle_id}/",
        f"/trees/{pairing.saddle.tree_id}/edit/",
        "/clients/",
        f"/clients/{client.pk}/",
        "/settings/",
        f"/evaluations/{evaluation.pk}/",
        f"/horses/{horse.pk}/through-time/",
        f"/horses/{horse.pk}/back-change/",
        f"/horses/{horse.pk}/what-changed/",
        f"/horses/{horse.pk}/rides/add/",
        f"/horses/{horse.pk}/marks/add/",
        f"/rides/{ride.pk}/",
        f"/rides/{ride.pk}/next_day/",
        f"/rounds/?place={place.pk}",
        f"/rounds/{horse.pk}/",
        f"/measuring/{study.pk}/",
        "/measuring/",
        "/soreness-by-tree/",
        *(walk.record_url(visit, horse, step) for step in steps),
        *(walk.record_url(visit, horse, step, pairing) for step in pairing_steps),
        walk.record_url(visit, horse, "report"),
    ], link


def broken_rules(page: Page, path: str) -> list[str]:
    """Return the rules a page breaks, each with the first place where it does."""
    answer = page.goto(path)
    assert answer is not None
    assert answer.status == 200, path
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{path}: {v['id']} at {v['nodes'][0]['target']}" for v in found]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_meet_wcag_2_2_aa(
    browser: Browser, live_server: LiveServer, size: dict[str, int], transactional_db: None
) -> None:
    paths, link = paths_of_a_recorded_visit()
    context = open_context(browser, size, live_server.url)
    page = context.new_page()
    problems = broken_rules(page, f"/r/{link.token}/") + broken_rules(page, "/sign-in/")
    walk.sign_in(page, "odalys")
    for path in paths:
        problems += broken_rules(page, path)
        width = page.evaluate("document.documentElement.scrollWidth")
        if width > size["width"]:
            problems.append(f"{path}: scrolls sideways, {width} px wide")
    context.close()
    assert not problems, "\n".join(problems)


def test_a_page_without_labels_is_found_out(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content("<html lang='en'><title>t</title><main><input></main></html>")
    found = Axe().run(page, options=RULES).response["violations"]
    page.close()
    assert "label" in {violation["id"] for violation in found}
