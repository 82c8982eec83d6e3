"""What a fitter does on a phone, as small steps that the browser tests put together."""

import re

from playwright.sync_api import Page, expect

from fitting.models import Pairing
from horses.models import DEPTHS_MM, Horse
from practice.models import Visit
from tests.factories import BACK, PASSWORD, dipped_line, section_points

STATIONS = tuple(BACK)


def sign_in(page: Page, username: str) -> None:
    page.goto("/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Today")).to_be_visible()


def book_visit(page: Page, *, client: str, place: str, day: str) -> int:
    """Book a first fit for the client's only horse and return the visit's key."""
    page.get_by_role("link", name="Book a visit").first.click()
    page.get_by_label("Kind of visit").select_option("first_fit")
    page.locator("#id_client").select_option(label=client)
    page.locator("#id_place").select_option(label=place)
    page.locator("#horse-choices").get_by_role("checkbox").first.check()
    page.locator("#id_day").fill(day)
    page.locator("#id_clock").fill("09:00")
    page.get_by_role("button", name="Book the visit").click()
    page.wait_for_url(re.compile(r"/visits/\d+/$"))
    return int(page.url.rstrip("/").split("/")[-1])


def saved(page: Page) -> None:
    """Wait until the page says that what was typed is stored."""
    expect(page.locator("#save-state")).to_contain_text("Saved")


def refused(page: Page) -> None:
    expect(page.locator("#save-state")).to_contain_text("Not saved")


def press(page: Page, field: str, value: str) -> None:
    """Press one key of a choice."""
    page.locator(f'input[name="{field}"][value="{value}"]').check(force=True)


def fill_section(page: Page, station: str) -> None:
    """Type one station's half-widths, both sides, the curve laid on twice."""
    for trace in (1, 2):
        for side, (at_30, at_150) in zip("LR", BACK[station], strict=True):
            points = section_points(at_30 + trace - 1, at_150 + trace - 1)
            for depth, (_, width) in zip(DEPTHS_MM, points, strict=True):
                name = section_field(page, side, trace, depth)
                page.locator(f'[name="{name}"]').fill(f"{width:.0f}")


def section_field(page: Page, side: str, trace: int, depth: int) -> str:
    from horses.forms.profiles import width_name

    return width_name(side, trace, depth)


def fill_lines(page: Page) -> None:
    """Type the midline and both bar lines at the places the page asks for."""
    for line, dip in (("midline", 14), ("left_bar", 18), ("right_bar", 18)):
        along, heights = zip(*dipped_line(dip), strict=True)
        for field in page.locator(f'input[name^="{line}_"]').all():
            name = field.get_attribute("name") or ""
            field.fill(f"{interpolated(float(name.rsplit('_', 1)[1]) / 10, along, heights):.0f}")


def interpolated(at: float, along: tuple[float, ...], heights: tuple[float, ...]) -> float:
    import numpy as np

    return float(np.interp(at, along, heights))


def put_saddle_on(page: Page, *, saddle: str, pad: str, rider: str, day: str) -> None:
    page.get_by_role("link", name=re.compile("^Put a saddle on")).click()
    page.locator("#id_saddle").select_option(label=saddle)
    page.locator("#id_pad").select_option(label=pad)
    page.locator("#id_rider").select_option(label=rider)
    page.locator("#id_tip_behind_blade_mm").fill("1")
    page.locator("#id_from_date").fill(day)
    page.get_by_role("button", name="Save the pairing").click()


def only_pairing() -> Pairing:
    return Pairing.objects.get()


def record_url(visit: Visit, horse: Horse, step: str = "", pairing: Pairing | None = None) -> str:
    middle = f"pairings/{pairing.pk}/" if pairing else ""
    return f"/visits/{visit.pk}/horses/{horse.pk}/{middle}{step + '/' if step else ''}"
