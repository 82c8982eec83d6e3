"""From a photo of a tracing to a section or a line, on the pages."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from horses.models import LineProfile, SectionProfile, TracingPhoto
from horses.services.tracings import remove_tracing
from practice.models import Visit
from tests.horses.ready_tracing import (
    HARD,
    LEFT,
    RIGHT,
    Scene,
    as_file,
    make_tracing,
    section_scene,
    true_widths,
)
from tests.practice.recording_site import HTMX, Site, make_site, typed_section


@pytest.fixture
def site(fitter: Any, signed_in: Any) -> Site:
    return make_site(signed_in(fitter))


@pytest.fixture(scope="module")
def scene() -> Scene:
    return section_scene(HARD)


def send(site: Site, step: str = "s1", **data: Any) -> HttpResponse:
    return site.client.post(f"{site.home}tracings/{step}/", data)


def send_scene(site: Site, scene: Scene, trace: int = 1) -> TracingPhoto:
    answer = send(site, photo=as_file(scene.photo.image, quality=95), trace=str(trace))
    assert answer.status_code == 302
    return TracingPhoto.objects.latest("pk")


def page_of(site: Site, tracing: TracingPhoto) -> str:
    return f"{site.home}tracings/{tracing.pk}/"


def marked(scene: Scene, **more: Any) -> dict[str, Any]:
    """Return what the page sends when corners, line and midline are marked."""
    return {
        "scale": "corners",
        "sheet": "other",
        "width_mm": f"{scene.sheet.width_mm:.2f} mm",
        "height_mm": f"{scene.sheet.height_mm:.2f} mm",
        "marks": json.dumps(scene.section_marks()),
        **more,
    }


# --- Taking one in ------------------------------------------------------------------------------


def test_a_photo_is_stored_as_a_private_file(site: Site, scene: Scene) -> None:
    tracing = send_scene(site, scene)
    path = Path(tracing.image.path)
    assert path.is_relative_to(settings.MEDIA_ROOT)
    assert re.fullmatch(r"[0-9a-f]{32}\.jpg", path.name)
    assert (tracing.shows, tracing.trace, tracing.width_px) == ("S1", 1, 1600)
    photo = site.client.get(f"{page_of(site, tracing)}photo.jpg")
    assert photo["Content-Type"] == "image/jpeg"
    assert "no-store" in photo["Cache-Control"]
    assert photo.content == path.read_bytes()
    assert Client().get(f"{page_of(site, tracing)}photo.jpg").status_code == 302
    assert site.client.get(f"/media/{tracing.image.name}").status_code == 404


def test_the_visit_is_underway_once_a_photo_is_in(site: Site, scene: Scene) -> None:
    send_scene(site, scene)
    assert Visit.objects.get(pk=site.visit.pk).state == Visit.State.UNDERWAY


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("notes.txt", b"no picture", "not a photo that can be read here"),
        ("empty.jpg", b"", "This file is empty"),
        ("tracing.heic", b"\x00\x00\x00\x18ftypheic" + b"\x00" * 40, "not a photo"),
    ],
)
def test_a_file_that_is_no_photo_is_told_at_the_field(
    site: Site, name: str, data: bytes, words: str
) -> None:
    answer = send(site, photo=SimpleUploadedFile(name, data), trace="2")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert words in re.search(r'id="field-photo".*?</div>', page, re.S).group()  # type: ignore[union-attr]
    assert re.search(r'name="trace" value="2"[^>]*checked', page)  # what was chosen stays
    assert not TracingPhoto.objects.exists()


def test_no_photo_is_told_at_the_field(site: Site) -> None:
    assert "Take or choose a photo." in send(site, trace="1").content.decode()


def test_the_second_time_is_offered_once_the_first_is_there(site: Site) -> None:
    site.post("s1", typed_section())
    page = site.client.get(f"{site.home}tracings/s1/").content.decode()
    assert re.search(r'name="trace" value="2"[^>]*checked', page)


def test_nothing_is_taken_in_on_a_cancelled_visit(site: Site, scene: Scene) -> None:
    Visit.objects.filter(pk=site.visit.pk).update(state=Visit.State.CANCELLED)
    send(site, photo=as_file(scene.photo.image), trace="1")
    assert not TracingPhoto.objects.exists()


def test_a_photo_of_another_horse_does_not_exist_here(site: Site, db: None) -> None:
    from tests.factories import make_measurement

    other = make_tracing(make_measurement())
    for end in ("", "photo.jpg"):
        assert site.client.get(f"{page_of(site, other)}{end}").status_code == 404
    assert site.client.post(f"{page_of(site, other)}delete/").status_code == 404


# --- Marking ------------------------------------------------------------------------------------


def test_what_is_missing_is_asked_for_step_by_step(site: Site, scene: Scene) -> None:
    url = page_of(site, send_scene(site, scene))
    marks = scene.section_marks()

    def said(**given: Any) -> str:
        return site.client.post(
            url, marked(scene, marks=json.dumps(given)), **HTMX
        ).content.decode()

    assert "0 so far" in said()
    assert "its left end (near side)" in said(corners=marks["corners"])
    assert "Mark where the midline" in said(corners=marks["corners"], line=marks["line"])
    assert "What the photo says" in said(**marks)


def test_a_marked_photo_gives_the_section_that_was_drawn(site: Site, scene: Scene) -> None:
    tracing = send_scene(site, scene)
    answer = site.client.post(page_of(site, tracing), marked(scene, keep="yes", confirm="yes"))
    assert answer["Location"] == f"{site.home}s1/?saved=1"
    for side, widths in (("L", LEFT), ("R", RIGHT)):
        half = SectionProfile.objects.get(station="S1", side=side, trace=1)
        assert half.method == "tracing"
        assert half.tracing == tracing
        assert 0 < half.scale_error < 0.01  # type: ignore[operator]
        true = true_widths(widths)
        assert {d: pytest.approx(true[d], abs=1.5) for d, _ in half.points} == dict(half.points)
    page = site.get("s1").content.decode()
    assert "Photo: first time, kept" in page
    assert "photo of tracing, scale ±" in page


def test_what_would_be_asked_of_typed_numbers_is_asked_here(site: Site, scene: Scene) -> None:
    url = page_of(site, send_scene(site, scene))
    asked = site.client.post(url, marked(scene, keep="yes"))
    assert re.search(r"Left and right differ by 1[3-9] mm", asked.content.decode())
    assert not SectionProfile.objects.exists()


def test_numbers_already_there_are_not_overwritten_unasked(site: Site, scene: Scene) -> None:
    site.post("s1", typed_section())
    url = page_of(site, send_scene(site, scene))
    asked = site.client.post(url, marked(scene, keep="yes")).content.decode()
    assert "Other numbers stand there already" in asked
    assert SectionProfile.objects.get(side="L", trace=1).method == "typed"
    site.client.post(url, marked(scene, keep="yes", confirm="yes"))
    assert SectionProfile.objects.get(side="L", trace=1).method == "tracing"
    assert SectionProfile.objects.get(side="L", trace=2).method == "typed"


def test_a_poor_repeat_is_asked_about(site: Site, scene: Scene) -> None:
    site.post("s1", {**typed_section((74, 184), (64, 168)), "sure": ""})
    site.post("s1", {**typed_section((74, 184), (64, 168)), "confirm": ["R1_150", "R2_150"]})
    assert SectionProfile.objects.count() == 4
    url = page_of(site, send_scene(site, scene, trace=2))
    asked = site.client.post(url, marked(scene, keep="yes")).content.decode()
    assert "the two traces differ by" in asked


def test_saving_the_step_again_keeps_where_numbers_came_from(site: Site, scene: Scene) -> None:
    tracing = send_scene(site, scene)
    site.client.post(page_of(site, tracing), marked(scene, keep="yes", confirm="yes"))
    halves = SectionProfile.objects.filter(trace=1)
    data = {f"{h.side}1_{d:.0f}": f"{w:g}" for h in halves for d, w in h.points}
    data["confirm"] = "R1_150"
    site.post("s1", data)
    assert {half.method for half in halves.all()} == {"tracing"}
    site.post("s1", {**data, "L1_80": f"{float(data['L1_80']) + 2:g}"})
    assert {half.side: half.method for half in halves.all()} == {"L": "typed", "R": "tracing"}


def test_the_left_end_marked_on_the_right_is_asked_about(site: Site, scene: Scene) -> None:
    url = page_of(site, send_scene(site, scene))
    marks = scene.section_marks()
    marks["line"].reverse()
    asked = site.client.post(url, marked(scene, marks=json.dumps(marks), keep="yes"))
    assert "seen from the front" in asked.content.decode()
    assert not SectionProfile.objects.exists()


def test_a_size_that_cannot_be_read_is_told_and_kept_with_all_marks(
    site: Site, scene: Scene
) -> None:
    url = page_of(site, send_scene(site, scene))
    answer = site.client.post(url, marked(scene, width_mm="wide enough", keep="yes"))
    page = answer.content.decode()
    assert "wide enough" in page
    assert re.search(r'id="errors-width_mm">\s*<p class="error"', page)
    again = site.client.get(url).content.decode()
    assert "wide enough" in again
    assert len(TracingPhoto.objects.get().marks["corners"]) == 4


@pytest.mark.parametrize(
    "marks",
    [
        "not json",
        "[]",
        '{"line": [[1]]}',
        '{"line": [["a", "b"]]}',
        '{"line": [[1e9, 5]]}',
        '{"line": [[-3, 5]]}',
        '{"zero": [[5, 5], [6, 6]]}',
        '{"line": [[NaN, 5]]}',
    ],
)
def test_marks_that_arrive_broken_change_nothing(site: Site, scene: Scene, marks: str) -> None:
    tracing = send_scene(site, scene)
    url = page_of(site, tracing)
    site.client.post(url, marked(scene), **HTMX)
    before = TracingPhoto.objects.get().marks
    assert site.client.post(url, marked(scene, marks=marks), **HTMX).status_code == 200
    assert TracingPhoto.objects.get().marks == before


def test_squared_paper_is_found_by_itself_and_only_once(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene = section_scene(HARD, square_mm=10.0)
    url = page_of(site, send_scene(site, scene))
    data = marked(scene, scale="squares", square_mm="10")
    assert "Scale known to ±0.3 %" in site.client.post(url, data, **HTMX).content.decode()
    monkeypatch.setattr("horses.adapters.tracings.find_squares", None)  # asking again would fail
    assert "Scale known to" in site.client.post(url, data, **HTMX).content.decode()


def test_two_marks_ask_for_the_level_and_say_what_they_do_not_show(site: Site) -> None:
    scene = section_scene()
    url = page_of(site, send_scene(site, scene))
    marks = scene.section_marks() | {"marks": scene.marked([[30.0, 180.0], [330.0, 180.0]])}
    data = marked(scene, scale="marks", apart_mm="300 mm", marks=json.dumps(marks))
    assert "Mark two points that were level" in site.client.post(url, data, **HTMX).content.decode()
    marks["level"] = marks["marks"]
    page = site.client.post(url, {**data, "marks": json.dumps(marks)}, **HTMX).content.decode()
    assert "do not show whether the camera was tilted" in page
    assert "178." in page or "177." in page or "179." in page


def test_a_line_along_the_back_is_kept_with_its_places(site: Site) -> None:
    import numpy as np

    from horses.digitising.rendering import Camera, line_sheet, photograph

    x = np.linspace(0, 500, 200)
    height = 18.0 * ((x - 240.0) / 240.0) ** 2 - 18.0
    sheet, zero = line_sheet(np.column_stack([x, height]))
    photo = photograph(sheet, Camera(tilt=8, pan=5, width_px=2000, height_px=800))
    send(site, "lines", photo=as_file(photo.image, quality=95), shows="left_bar")
    tracing = TracingPhoto.objects.get()
    corners = [(0, 0), (sheet.width_mm, 0), (sheet.width_mm, sheet.height_mm), (0, sheet.height_mm)]
    marks = {
        "corners": photo.at(corners).tolist(),
        "line": photo.at(sheet.pen[0][[0, -1]]).tolist(),
        "zero": photo.at(zero).tolist(),
    }
    data = {
        "scale": "corners",
        "sheet": "other",
        "width_mm": f"{sheet.width_mm} mm",
        "height_mm": f"{sheet.height_mm} mm",
        "marks": json.dumps(marks),
        "keep": "yes",
    }
    answer = site.client.post(page_of(site, tracing), data)
    assert answer["Location"] == f"{site.home}lines/?saved=1"
    line = LineProfile.objects.get(line="left_bar")
    assert line.method == "tracing"
    at = dict(line.points)
    assert at[241.3] == pytest.approx(-18.0, abs=1.5)
    assert at[342.9] == pytest.approx(18.0 * (102.9 / 240.0) ** 2 - 18.0, abs=1.5)
    assert "Left bar line: photo of tracing" in site.get("lines").content.decode()


# --- Deleting -----------------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_deleting_a_photo_deletes_the_file_and_keeps_the_numbers(site: Site, scene: Scene) -> None:
    tracing = send_scene(site, scene)
    path = Path(tracing.image.path)
    site.client.post(page_of(site, tracing), marked(scene, keep="yes", confirm="yes"))
    answer = site.client.post(
        reverse("tracing_remove", args=[site.visit.pk, site.horse.pk, tracing.pk])
    )
    assert answer.status_code == 302
    assert not path.exists()
    half = SectionProfile.objects.get(side="L")
    assert (half.method, half.tracing) == ("tracing", None)


@pytest.mark.django_db(transaction=True)
def test_a_horse_taken_out_takes_its_photos_along(site: Site, scene: Scene) -> None:
    path = Path(send_scene(site, scene).image.path)
    assert path.exists()
    site.horse.measurements.all().delete()
    assert not path.exists()


def test_a_delete_that_is_rolled_back_keeps_the_file(site: Site, scene: Scene) -> None:
    tracing = send_scene(site, scene)
    remove_tracing(tracing=tracing)  # this test's own transaction is never committed
    assert Path(tracing.image.path).exists()


def test_a_reader_may_look_and_not_change(
    site: Site, scene: Scene, reader: Any, signed_in: Any
) -> None:
    tracing = send_scene(site, scene)
    client = signed_in(reader)
    page = client.get(page_of(site, tracing)).content.decode()
    assert "Keep these numbers" not in page
    assert client.get(f"{page_of(site, tracing)}photo.jpg").status_code == 200
    assert client.post(page_of(site, tracing), marked(scene)).status_code == 403


def test_the_scale_of_the_last_photo_is_carried_on(site: Site, scene: Scene) -> None:
    first = send_scene(site, scene)
    site.client.post(page_of(site, first), marked(scene, scale="squares", square_mm="10"), **HTMX)
    second = send_scene(site, scene, trace=2)
    assert (second.scale, second.square_mm, second.marks) == ("squares", 10.0, {})
