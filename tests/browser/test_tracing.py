"""A photo of a tracing on a phone: taps, the magnifier, and the section that comes of it."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from horses.models import SectionProfile, TracingPhoto
from practice.models import Visit
from tests.browser import walk
from tests.factories import make_horse, make_practice, make_user, make_visit
from tests.horses.ready_tracing import HARD, LEFT, RIGHT, Scene, section_scene, true_widths

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def visit(transactional_db: None) -> Visit:
    make_practice()
    make_user(username="odalys")
    return make_visit([make_horse()])


def tap(page: Page, scene: Scene, mm: tuple[float, float]) -> None:
    """Tap the photo where a point of the paper is seen."""
    photo = page.locator("#stage-photo")
    photo.evaluate("box => box.scrollIntoView({ block: 'center' })")
    box = photo.bounding_box()
    assert box
    x, y = scene.photo.at(mm)[0]
    at = box["x"] + x / 1600 * box["width"], box["y"] + y / 1200 * box["height"]
    with page.expect_response(lambda answer: "/tracings/" in answer.url):
        page.touchscreen.tap(*at)


def test_a_photo_becomes_a_section(phone: Page, visit: Visit, tmp_path: Path) -> None:
    scene = section_scene(HARD)
    scene.photo.image.save(tmp_path / "tracing.jpg", quality=95)
    walk.sign_in(phone, "odalys")
    phone.goto(walk.record_url(visit, visit.horses.get(), "s1"))
    phone.get_by_role("link", name="From a photo of the tracing").click()
    phone.locator("input[type=file]").set_input_files(tmp_path / "tracing.jpg")
    phone.get_by_role("button", name="Use this photo").click()

    phone.locator("#id_sheet").select_option("other")
    phone.locator("#id_width_mm").fill(f"{scene.sheet.width_mm:.1f} mm")
    phone.locator("#id_height_mm").fill(f"{scene.sheet.height_mm:.1f} mm")
    phone.locator("#id_height_mm").blur()
    for corner in scene.corners_mm:
        tap(phone, scene, corner)
    expect(phone.locator("#tracing-ask")).to_contain_text("left end (near side)")
    line = scene.sheet.pen[0]
    tap(phone, scene, tuple(line[0]))
    tap(phone, scene, tuple(line[-1]))
    expect(phone.locator("#tracing-ask")).to_contain_text("the midline crosses the line")
    tap(phone, scene, tuple(scene.midline_mm))
    expect(phone.locator("#tracing-live")).to_contain_text("What the photo says")
    drag_with_the_magnifier(phone)

    phone.get_by_role("button", name="Keep these numbers").click()
    phone.get_by_text("Yes, keep it as it is").click()
    phone.get_by_role("button", name="Keep these numbers").click()
    expect(phone.get_by_role("heading", name="Section S1 front")).to_be_visible()
    for side, widths in (("L", LEFT), ("R", RIGHT)):
        half = SectionProfile.objects.get(station="S1", side=side, trace=1)
        # A tap without the magnifier lies a millimetre or two off along the line.
        assert half.points[-1][1] == pytest.approx(true_widths(widths)[150.0], abs=4.0)
        assert half.method == "tracing"


def drag_with_the_magnifier(page: Page) -> None:
    """Move the midline mark and back: the magnifier shows, the change is stored."""
    before = TracingPhoto.objects.get().marks["zero"]
    page.locator('input[name="kind"][value="zero"]').check(force=True)
    mark = page.locator(".point.zero")
    mark.evaluate("box => box.scrollIntoView({ block: 'center' })")
    box = mark.bounding_box()
    assert box
    assert box["width"] >= 44
    at = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    expect(page.locator("#loupe")).to_be_hidden()
    page.mouse.move(*at)
    page.mouse.down()
    page.mouse.move(at[0] + 3, at[1])
    expect(page.locator("#loupe")).to_be_visible()
    with page.expect_response(lambda answer: "/tracings/" in answer.url):
        page.mouse.up()
    expect(page.locator("#loupe")).to_be_hidden()
    assert TracingPhoto.objects.get().marks["zero"] != before


def test_a_section_is_drawn_while_it_is_typed(phone: Page, visit: Visit) -> None:
    walk.sign_in(phone, "odalys")
    phone.goto(walk.record_url(visit, visit.horses.get(), "s1"))
    for name, text in (("L1_100", "140"), ("L1_150", "174"), ("R1_150", "17.2 cm")):
        phone.locator(f'[name="{name}"]').press_sequentially(text)
        if name == "L1_150":  # not left yet, so nothing has been sent
            curve = phone.locator('[data-curve="L1"]')
            expect(curve).to_have_attribute("points", "-140.0,100.0 -174.0,150.0")
    expect(phone.locator('[data-curve="R1"]')).to_have_attribute("points", "172.0,150.0")
    phone.locator('[name="L2_150"]').press_sequentially("180")
    expect(phone.locator('[data-apart="L_150"]')).to_have_text("6")
    expect(phone.locator('[data-apart="L_150"]')).to_have_class("over")
    phone.locator('[name="L2_150"]').blur()
    walk.refused(phone)  # 6 mm apart is asked about
    expect(phone.locator("#errors-L2_150")).to_contain_text("Take it again, or keep it?")
