"""The curve laid on twice: shown depth by depth, asked about past the measuring error, re-taken."""

import re
from typing import Any

import pytest

from horses.forms.profiles import is_repeat_asked
from horses.measuring_error import MeasuringError
from horses.models import SectionProfile
from tests.practice.recording_site import Site, make_site, typed_section


@pytest.fixture
def site(fitter: Any, signed_in: Any) -> Site:
    return make_site(signed_in(fitter))


def cells(page: str) -> dict[str, tuple[str, bool]]:
    """Return the differences as shown, and whether each is marked as too large."""
    found = re.findall(r'data-apart="(\w+)"( class="over")?>([^<]*)<', page)
    return {name: (text, bool(mark)) for name, mark, text in found}


def test_the_difference_is_shown_at_every_depth(site: Site) -> None:
    data = typed_section(again=1)
    data["L2_80"] = f"{float(data['L1_80']) + 6.5:.1f}"
    shown = cells(site.htmx("s1", data).content.decode())
    assert shown["L_80"] == ("6.5", True)
    assert shown["L_100"] == ("1", False)
    assert shown["R_80"] == ("1", False)
    assert shown["L_0"] == ("0", False)
    assert len(shown) == 18


def test_a_difference_at_any_depth_from_30_mm_down_asks(site: Site) -> None:
    data = typed_section(again=1)
    data["L2_80"] = f"{float(data['L1_80']) + 6.5:.1f}"
    page = site.htmx("s1", data).content.decode()
    assert "Left: the two traces differ by 6 mm at 80 mm" in page
    assert "Right: the two traces differ" not in page
    assert not SectionProfile.objects.exists()
    site.htmx("s1", {**data, "sure": f"L2_80={data['L2_80']}"})
    assert SectionProfile.objects.count() == 4


def test_near_the_spine_nothing_is_asked(site: Site) -> None:
    data = typed_section(again=1)
    data["L2_10"] = f"{float(data['L1_10']) + 6:.1f}"
    assert "traces differ" not in site.htmx("s1", data).content.decode()


@pytest.mark.parametrize(
    ("depth", "apart", "is_asked"),
    [(30, 4.0, True), (30, 3.9, False), (20, 9.0, False), (150, None, False)],
)
def test_where_the_limit_lies(depth: float, apart: float | None, is_asked: bool) -> None:
    assert is_repeat_asked(depth, apart, 4.0) is is_asked


def test_the_practices_own_error_is_the_limit(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    own = MeasuringError(half_width_mm=7.0, source="its own study", is_own=True)
    data = typed_section(again=6)
    assert "traces differ by 6 mm" in site.htmx("s1", data).content.decode()  # with the default 4
    monkeypatch.setattr("practice.views.recording.back_steps.measuring_error", lambda: own)
    page = site.htmx("s1", data).content.decode()
    assert "traces differ" not in page
    assert "7 mm or more is worth taking again: its own study" in page


def test_the_second_time_of_one_side_can_be_taken_again(site: Site) -> None:
    data = typed_section(again=6)
    assert 'name="retake" value="L"' in site.htmx("s1", data).content.decode()
    page = site.post("s1", {**data, "retake": "L"}).content.decode()
    assert re.search(r'name="L1_150" value="174.0"', page)
    assert not re.search(r'name="L2_150" value="[^"]', page)
    assert re.search(r'name="R2_150" value="179.0"', page)
    assert not SectionProfile.objects.exists()  # the right side is still asked about
    site.post("s1", {**data, "retake": "L", "confirm": "R2_150"})
    halves = {(half.side, half.trace) for half in SectionProfile.objects.all()}
    assert halves == {("L", 1), ("R", 1), ("R", 2)}


def test_a_side_that_does_not_exist_is_not_taken_again(site: Site) -> None:
    page = site.post("s1", {**typed_section(again=6), "retake": "X"}).content.decode()
    assert re.search(r'name="L2_150" value="180.0"', page)
