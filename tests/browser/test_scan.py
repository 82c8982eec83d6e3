"""Marks on a scan, set with a finger on a phone, and by typing."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from horses.models import BackScan
from tests.browser.walk import sign_in
from tests.factories import make_measurement, make_practice, make_user
from tests.horses.ready_scan import make_scan, small_scan

pytestmark = [pytest.mark.browser]
RULES = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]
# Where the drawing library itself says that a place of the scan stands on the screen.
ON_SCREEN = """([x, y, z]) => {
  const place = document.getElementById("scan-view"), scene = place._fullLayout.scene._scene;
  const box = place.querySelector("canvas").getBoundingClientRect(), scale = scene.dataScale;
  const times = (m, v) => [0, 1, 2, 3].map((r) => m[r] * v[0] + m[r + 4] * v[1] + m[r + 8] * v[2] + m[r + 12] * v[3]);
  const look = scene.glplot.cameraParams;
  const seen = [look.model, look.view, look.projection]
    .reduce((v, m) => times(m, v), [x * scale[0], y * scale[1], z * scale[2], 1]);
  return [box.left + box.width * (0.5 + seen[0] / seen[3] / 2), box.top + box.height * (0.5 - seen[1] / seen[3] / 2)];
}"""  # noqa: E501


@pytest.fixture
def scan(transactional_db: None) -> BackScan:
    make_practice()
    make_user("lead", username="odalys")
    return make_scan(make_measurement(), state="marking", marks={}, account={})


def opened(page: Page, scan: BackScan) -> None:
    sign_in(page, "odalys")
    page.goto(reverse("scan_marks", args=[scan.pk]))
    page.wait_for_function("document.querySelector('#scan-view canvas') !== null")
    page.wait_for_timeout(1500)  # the first picture


def check_for_everyone(page: Page) -> None:
    # The menu over the lower edge half covers whatever happens to be scrolled there.
    page.add_style_tag(content=".mainnav { position: static !important }")
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}})
    assert found.violations_count == 0, found.generate_report()


def test_a_tap_sets_the_mark_under_the_finger_and_goes_on_to_the_next(
    phone: Page, scan: BackScan
) -> None:
    opened(phone, scan)
    expect(phone.locator("#active-words")).to_contain_text("A left")
    for code, following in (("AL", "A right"), ("AR", "W:"), ("W", "D:")):
        wanted = small_scan().marks[code]
        x, y = phone.evaluate(ON_SCREEN, wanted.tolist())
        phone.touchscreen.tap(x, y)
        expect(phone.locator("#active-words")).to_contain_text(following)
        got = [float(v) for v in phone.locator(f"#id_{code}").input_value().split(",")]
        assert sum((g - w) ** 2 for g, w in zip(got, wanted, strict=True)) ** 0.5 < 0.008  # [m]


def test_turning_sets_no_mark(phone: Page, scan: BackScan) -> None:
    opened(phone, scan)
    box = phone.locator("#scan-view").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + 60, y + 30, steps=4)
    phone.mouse.up()
    phone.get_by_role("button", name="Turn left").click()
    assert phone.locator("#id_AL").input_value() == ""


def test_typed_places_are_as_good_and_the_page_is_for_everyone(phone: Page, scan: BackScan) -> None:
    opened(phone, scan)
    phone.get_by_text("Type the places instead").click()
    for code, place in small_scan().marks.items():
        phone.locator(f"#id_{code}").fill(", ".join(f"{v:.4f}" for v in place))
    check_for_everyone(phone)
    phone.get_by_role("button", name="Save and measure").click()
    expect(phone.get_by_role("heading", name="Is it complete?")).to_be_visible()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    check_for_everyone(phone)
