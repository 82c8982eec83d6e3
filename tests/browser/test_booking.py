"""Booking and the book's forms on a phone: with scripts, without them, and for everyone."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from practice.models import Client, Rider, Visit
from tests.browser.conftest import PATIENCE_MS, PHONE
from tests.browser.walk import sign_in
from tests.factories import (
    make_client,
    make_horse,
    make_pairing,
    make_place,
    make_practice,
    make_rider,
    make_soreness_check,
    make_user,
    make_visit,
)

RULES = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]


@pytest.fixture
def client(transactional_db: None) -> Client:
    """A practice in which one client owns one horse, already in a visit today at nine."""
    make_practice(time_zone="UTC")
    make_user("lead", username="odalys")
    client = make_client(name="Kettlebar Outfit")
    horse = make_horse(owner=client, barn_name="Needle")
    make_visit([horse], client=client, place=make_place())
    make_pairing(horse, rider=make_rider(client=client, mass_kg=81.6466))
    make_soreness_check(horse, {("BS", "L"): 3})
    return client


@pytest.fixture
def plain_phone(browser: Browser, live_server: LiveServer) -> Iterator[Page]:
    """A phone whose browser runs no scripts."""
    context = browser.new_context(
        viewport=PHONE,  # type: ignore[arg-type]
        base_url=live_server.url,
        java_script_enabled=False,
    )
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


def fill_booking(page: Page) -> None:
    page.get_by_label("Why called").fill("dips at the loin")
    page.get_by_label("Date").fill("2026-05-14")
    page.get_by_label("Time", exact=False).first.fill("09:30")


def test_a_place_is_added_on_the_way_and_a_clash_is_seen_before_saving(
    phone: Page, client: Client
) -> None:
    sign_in(phone, "odalys")
    phone.goto(reverse("visit_book"))
    phone.get_by_label("Client").select_option(label="Kettlebar Outfit")
    phone.locator("#horse-choices > ul").get_by_text("Needle").click()
    fill_booking(phone)
    phone.get_by_role("button", name="New place").click()
    phone.get_by_label("Name").fill("Lantern Hill")
    phone.get_by_role("button", name="Save the place").click()
    expect(phone.get_by_label("Why called")).to_have_value("dips at the loin")
    expect(phone.get_by_label("Needle")).to_be_checked()
    phone.get_by_role("button", name="Book the visit").click()
    expect(phone.locator("#clashes")).to_contain_text("Needle is already booked")
    phone.get_by_role("button", name="Save all the same").click()
    expect(phone.get_by_role("status")).to_contain_text("The visit is booked.")
    visit = Visit.objects.latest("pk")
    assert (str(visit.place), visit.minutes) == ("Lantern Hill", 60)


def test_the_same_works_without_scripts(plain_phone: Page, client: Client) -> None:
    page = plain_phone
    sign_in(page, "odalys")
    page.goto(reverse("visit_book"))
    page.get_by_label("Client").select_option(label="Kettlebar Outfit")
    fill_booking(page)
    page.get_by_role("button", name="Show this client’s horses").click()
    expect(page.get_by_label("Why called")).to_have_value("dips at the loin")
    page.locator("#horse-choices > ul").get_by_text("Needle").click()
    page.get_by_label("Time", exact=False).first.fill("14:00")
    page.get_by_role("button", name="Book the visit").click()
    expect(page.get_by_role("status")).to_contain_text("The visit is booked.")


def test_enter_in_a_field_books_and_does_not_wander_off(phone: Page, client: Client) -> None:
    sign_in(phone, "odalys")
    phone.goto(reverse("visit_book"))
    phone.get_by_label("Why called").press("Enter")
    expect(phone.get_by_role("alert").first).to_contain_text("Not saved yet")
    assert phone.url.endswith(reverse("visit_book"))


def test_two_unusual_values_are_confirmed_one_after_the_other(phone: Page, client: Client) -> None:
    rider = Rider.objects.get()
    sign_in(phone, "odalys")
    phone.goto(reverse("rider_edit", args=[rider.pk]))
    phone.get_by_label("Weight in riding clothes").fill("290")
    phone.get_by_label("Height").fill("6 ft 8 in")
    phone.get_by_role("button", name="Save the rider").click()
    phone.locator("[data-sure=mass_kg]").click()
    expect(phone.locator("[data-sure]")).to_have_count(1)
    phone.locator("[data-sure=height_mm]").click()
    expect(phone.get_by_role("status")).to_contain_text("is saved")
    rider.refresh_from_db()
    assert rider.height_mm == pytest.approx(80 * 25.4)


def test_a_weight_is_shown_in_its_place_when_asked_for(phone: Page, client: Client) -> None:
    sign_in(phone, "odalys")
    phone.goto(reverse("client_detail", args=[client.pk]))
    expect(phone.locator("main")).not_to_contain_text("180 lb")
    phone.get_by_role("button", name="Show weight").click()
    expect(phone.locator("main")).to_contain_text("180 lb")
    assert phone.url.endswith(reverse("client_detail", args=[client.pk]))


@pytest.mark.parametrize(
    "name",
    [
        "today",
        "horse_list",
        "horse_add",
        "visit_list",
        "visit_book",
        "saddle_list",
        "saddle_add",
        "tree_list",
        "pad_add",
        "client_list",
        "role_add",
        "practice_settings",
        "member_list",
    ],
)
def test_a_page_fits_the_phone_and_everyone(phone: Page, client: Client, name: str) -> None:
    sign_in(phone, "odalys")
    phone.goto(reverse(name))
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    found = Axe().run(phone, options={"runOnly": RULES}).response["violations"]
    assert [(v["id"], v["nodes"][0]["html"]) for v in found] == []
