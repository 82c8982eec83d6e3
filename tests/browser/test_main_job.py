"""The main job at phone size: book, record, compute, chart, share, read signed out, revoke."""

import re

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from fitting.models import FitEvaluation, Verdict
from horses.models import BackMeasurement, Horse, SectionProfile, SiteScore
from practice.models import ShareLink, Visit
from tests.browser import walk
from tests.browser.conftest import PHONE, open_context
from tests.factories import (
    make_client,
    make_horse,
    make_pad,
    make_place,
    make_practice,
    make_rider,
    make_saddle,
    make_tree,
    make_user,
)

pytestmark = pytest.mark.django_db(transaction=True)
ADDRESS = "2 Creek Road, by the old mill"
RIDER_KG = 83.1


@pytest.fixture
def practice_with_a_horse(transactional_db: None) -> Horse:
    make_practice()
    make_user(username="odalys", first_name="Odalys", last_name="Fernhatch")
    client = make_client(address="17 Ford Lane", phone="555 0117")
    place = make_place(address=ADDRESS)
    make_rider(mass_kg=RIDER_KG)
    make_saddle(tag="SD-02", tree=make_tree(tag="TR-02"), fork_behind_tip_mm=114.3)
    make_pad()
    return make_horse(owner=client, place=place, birth_date="2015-04-02")


def test_a_fitter_books_records_computes_charts_and_shares(
    phone: Page, browser: Browser, live_server: LiveServer, practice_with_a_horse: Horse
) -> None:
    horse, today = practice_with_a_horse, timezone.localdate()
    walk.sign_in(phone, "odalys")
    pk = walk.book_visit(
        phone, client="Garrick Nettleworth", place="Tinbrook Flats", day=today.isoformat()
    )
    visit = Visit.objects.get(pk=pk)
    record_body(phone, visit, horse)
    record_soreness(phone, visit, horse)
    record_shape(phone, visit, horse)
    phone.goto(walk.record_url(visit, horse))
    walk.put_saddle_on(
        phone,
        saddle="SD-02",
        pad="Felt, 19 mm",
        rider="Garrick Nettleworth",
        day=today.isoformat(),
    )
    compute(phone, visit, horse)
    sign_verdict(phone, visit, horse)
    look_at_charts(phone, horse)
    link = share(phone, visit, horse)
    read_signed_out_then_revoke(phone, browser, live_server, visit, horse, link)


def record_body(page: Page, visit: Visit, horse: Horse) -> None:
    """A girth typed in centimetres as if inches is refused, kept, and put right."""
    page.goto(walk.record_url(visit, horse, "body"))
    page.locator("[name=girth_mm]").fill("185 in")
    page.locator("[name=girth_mm]").blur()
    walk.refused(page)
    expect(page.locator("#errors-girth_mm")).to_contain_text("cannot be right")
    page.reload()
    expect(page.locator("[name=girth_mm]")).to_have_value("185 in")
    page.locator("[name=girth_mm]").fill("73")
    page.locator("[name=length_mm]").fill("66 1/2")
    page.locator("[name=height_mm]").fill("15.2")
    page.locator("[name=support_length_mm]").fill("18 1/2")
    page.locator("[name=condition_score]").first.dispatch_event("change")
    walk.press(page, "condition_score", "5")
    walk.saved(page)
    page.reload()
    measurement = BackMeasurement.objects.get(visit=visit)
    assert measurement.height_mm == pytest.approx(62 * 25.4)  # 15.2 hands are 62 in, not 60.8
    assert measurement.typed["length_mm"] == "66 1/2"


def record_soreness(page: Page, visit: Visit, horse: Horse) -> None:
    page.goto(walk.record_url(visit, horse, "soreness"))
    walk.press(page, "BS_L_score", "2")
    walk.saved(page)
    page.get_by_role("button", name=re.compile("Mark what is left")).click()
    walk.saved(page)
    scores = {(s.site, s.side): s.score for s in SiteScore.objects.filter(check_done__visit=visit)}
    assert scores["BS", "L"] == 2
    assert scores["BS", "R"] is None  # not tested is not zero


def record_shape(page: Page, visit: Visit, horse: Horse) -> None:
    for station in walk.STATIONS:
        page.goto(walk.record_url(visit, horse, station.lower()))
        walk.fill_section(page, station)
        page.get_by_role("button", name=re.compile("^Next")).click()
        page.wait_for_url(lambda url, s=station: f"/{s.lower()}/" not in url)
    assert SectionProfile.objects.filter(measurement__visit=visit).count() == 20
    page.goto(walk.record_url(visit, horse, "lines"))
    walk.fill_lines(page)
    page.get_by_role("button", name="Save", exact=True).last.click()
    walk.saved(page)


def compute(page: Page, visit: Visit, horse: Horse) -> None:
    page.goto(walk.record_url(visit, horse, "evaluation", walk.only_pairing()))
    page.get_by_role("button", name="Compute the fit").click()
    page.wait_for_url(re.compile(r"/evaluations/\d+/"))
    expect(page.get_by_role("heading", name="Findings")).to_be_visible()
    assert FitEvaluation.objects.get().state == "done"
    first = page.locator("main h2").first
    expect(first).to_contain_text("felt")  # soreness stands above everything computed
    chart = page.locator(".chart").first
    chart.scroll_into_view_if_needed()
    expect(chart.locator(".main-svg").first).to_be_visible()


def sign_verdict(page: Page, visit: Visit, horse: Horse) -> None:
    page.goto(walk.record_url(visit, horse, "verdict", walk.only_pairing()))
    walk.press(page, "word", "small_changes")
    walk.press(page, "confidence", "measured")
    page.locator("[name=changes]").fill("Thinner pad")
    page.get_by_role("button", name=re.compile("^Sign")).click()
    expect(page.get_by_text("Signed").first).to_be_visible()
    assert Verdict.objects.get().signed_by.username == "odalys"


def look_at_charts(page: Page, horse: Horse) -> None:
    page.goto(f"/horses/{horse.pk}/")
    chart = page.locator(".chart").first
    chart.scroll_into_view_if_needed()
    expect(chart.locator(".main-svg").first).to_be_visible()
    page.locator(".chart-table > summary").first.click()
    expect(page.locator(".chart-table table").first).to_be_visible()


def share(page: Page, visit: Visit, horse: Horse) -> ShareLink:
    page.goto(walk.record_url(visit, horse, "report"))
    page.get_by_role("button", name="Make a link").click()
    expect(page.get_by_role("link", name="Open", exact=True)).to_be_visible()
    return ShareLink.objects.get()


def read_signed_out_then_revoke(
    page: Page,
    browser: Browser,
    live_server: LiveServer,
    visit: Visit,
    horse: Horse,
    link: ShareLink,
) -> None:
    outside = open_context(browser, PHONE, live_server.url)
    reader = outside.new_page()
    answer = reader.goto(f"/r/{link.token}/")
    assert answer is not None
    assert answer.status == 200
    text = reader.content()
    expect(reader.locator("body")).to_contain_text("Carry on, small changes")
    for private in (ADDRESS, "17 Ford Lane", "555 0117", "Tinbrook Flats", "83", "183 lb"):
        assert private not in reader.locator("body").inner_text(), private
    assert "noindex" in text
    page.get_by_role("button", name="Close this link").click()
    expect(page.get_by_text(re.compile("^Closed"))).to_be_visible()
    gone = reader.goto(f"/r/{link.token}/")
    wrong = outside.new_page().goto("/r/" + "x" * 43 + "/")
    assert gone is not None
    assert wrong is not None
    assert (gone.status, wrong.status) == (404, 404)
    assert gone.body() == wrong.body()
    outside.close()
