"""A scan's way over the pages: sent, read, marked, checked against tapes, measured, taken over."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import trimesh
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fitting.models import FitEvaluation
from horses.adapters.profiles import problems_of
from horses.forms.scans import place_text
from horses.models import BackMeasurement, BackScan, Job
from horses.scanning.landmarks import NEEDED, TAPES
from horses.services.measurements import record_section
from practice.models import User
from tests.factories import make_horse, make_measurement, make_practice, make_visit
from tests.fitting.evaluated import evaluated
from tests.horses.ready_scan import make_scan, small_scan
from tests.horses.scan_makers import KNOWN, MadeScan

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
Commit = Callable[..., Any]


def _length(pair: tuple[str, str]) -> float:
    one, other = (small_scan().marks[code] for code in pair)
    return float(np.linalg.norm(one - other))


LENGTHS = {pair: _length(pair) for pair in TAPES}
TAPE_TEXTS = {
    "tape_withers_croup_mm": f"{LENGTHS['W', 'C'] * 100:.1f} cm",
    "tape_blade_rib_mm": f"{LENGTHS['AL', 'RL'] * 100:.1f} cm",
}


@pytest.fixture
def client(signed_in: SignIn, fitter: User) -> Client:
    make_practice()
    return signed_in(fitter)


@pytest.fixture
def measurement() -> BackMeasurement:
    return make_measurement(visit=make_visit())


def as_file(made: MadeScan, name: str = "back.stl") -> SimpleUploadedFile:
    mesh = trimesh.Trimesh(made.surface.vertices, made.surface.faces, process=False)
    return SimpleUploadedFile(name, mesh.export(file_type=name.rpartition(".")[2]))


def sent(client: Client, measurement: BackMeasurement, commit: Commit, **more: Any) -> Any:
    data = {"file": as_file(small_scan()), "unit": "m", **TAPE_TEXTS, **more}
    with commit(execute=True):
        return client.post(reverse("scan_add", args=[measurement.pk]), data)


def marks_data(made: MadeScan, **more: Any) -> dict[str, Any]:
    places = {code: place_text(list(place)) for code, place in made.marks.items()}
    return {
        **places, "unit": "m", "scaled_by": "unit", "midline": "spine", **TAPE_TEXTS, **more,
    }  # fmt: skip


def marked(client: Client, scan: BackScan, commit: Commit, **more: Any) -> Any:
    with commit(execute=True):
        return client.post(reverse("scan_marks", args=[scan.pk]), marks_data(small_scan(), **more))


def test_from_a_file_to_a_fit(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    commit = django_capture_on_commit_callbacks
    answer = sent(client, measurement, commit)
    scan = BackScan.objects.get()
    assert answer.url == reverse("scan_detail", args=[scan.pk])
    assert scan.state == "marking"
    assert scan.triangles == len(small_scan().surface.faces)
    answer = marked(client, scan, commit)
    scan.refresh_from_db()
    assert scan.state == "ready", scan.failure
    page = client.get(reverse("scan_detail", args=[scan.pk])).content.decode()
    assert "Beside the tracing of the day" in page
    answer = client.post(
        reverse("scan_use", args=[scan.pk]), {"stood_square": "False", "head": "high"}
    )
    made = BackScan.objects.get().result
    assert made is not None
    assert made.pk != measurement.pk
    assert (made.method, made.visit_id, made.measured_on) == ("scan", None, measurement.measured_on)
    assert made.girth_mm == measurement.girth_mm
    assert made.quality_problems == ["not standing square", "head not at normal height"]
    for half in made.sections.all():
        assert half.method == "scan"
        if half.station in {"S1", "S3"}:
            for depth, width in half.points:
                truth = 1000 * KNOWN.half_width(half.station, half.side, depth / 1000)
                assert width == pytest.approx(truth, abs=2.5)  # 12 mm triangles; S1 at 38.1 mm
    evaluation = evaluated(made)
    assert evaluation.state == FitEvaluation.State.DONE, evaluation.failure
    # The tracing of the visit stays the horse's measuring of that day.
    assert made.horse.measurements.first() == measurement


def test_where_nothing_was_traced_the_scan_is_the_measuring_of_the_visit(
    client: Client, django_capture_on_commit_callbacks: Commit
) -> None:
    visit = make_visit()
    empty = BackMeasurement.objects.create(
        horse=make_horse(), visit=visit, measured_on=visit.starts_local.date()
    )
    scan = make_scan(empty)
    client.post(reverse("scan_use", args=[scan.pk]), {"stood_square": "True"})
    empty.refresh_from_db()
    assert empty.method == "scan"
    assert empty.sections.count() == 10
    assert empty.lines.count() == 3
    assert empty.support_length_mm == pytest.approx(470, abs=1)
    client.post(reverse("scan_use", args=[scan.pk]), {"stood_square": "True"})  # twice: the same
    assert BackMeasurement.objects.count() == 1
    assert empty.sections.count() == 10


def test_what_was_typed_since_is_not_written_over_by_the_scan(
    client: Client, measurement: BackMeasurement
) -> None:
    measurement.sections.all().delete()
    measurement.lines.all().delete()
    scan = make_scan(measurement)
    client.post(reverse("scan_use", args=[scan.pk]), {"stood_square": "True"})
    typed = [[30.0, 40.0], [100.0, 120.0], [150.0, 140.0]]
    record_section(measurement=measurement, station="S1", side="L", trace=1, points=typed)
    client.post(reverse("scan_use", args=[scan.pk]), {"stood_square": "True"})
    assert measurement.sections.get(station="S1", side="L").points == typed
    scan.refresh_from_db()
    assert scan.result != measurement


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (SimpleUploadedFile("back.zip", b"PK"), "PLY, OBJ, STL or GLB"),
        (SimpleUploadedFile("back.ply", b"nonsense"), "not a PLY file"),
        (SimpleUploadedFile("back.stl", b"\0" * 84), "no surface"),
        (SimpleUploadedFile("back.glb", b"glTF"), "not a GLB file"),
        (None, "Choose the file"),
    ],
)
def test_a_file_that_cannot_be_read_is_said_at_its_field_and_nothing_typed_is_lost(
    client: Client,
    measurement: BackMeasurement,
    django_capture_on_commit_callbacks: Commit,
    file: SimpleUploadedFile | None,
    words: str,
) -> None:
    more = {"file": file} if file else {"file": ""}
    answer = sent(client, measurement, django_capture_on_commit_callbacks, **more)
    page = answer.content.decode()
    assert words in page or BackScan.objects.get().failure.find(words) >= 0
    if not BackScan.objects.exists():
        assert TAPE_TEXTS["tape_withers_croup_mm"] in page


def test_what_only_opening_shows_is_said_on_the_scan(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    made = small_scan()
    broken = made.surface.vertices.copy()
    broken[5] = np.nan
    mesh = trimesh.Trimesh(broken, made.surface.faces, process=False, validate=False)
    file = SimpleUploadedFile("back.ply", mesh.export(file_type="ply"))
    sent(client, measurement, django_capture_on_commit_callbacks, file=file)
    scan = BackScan.objects.get()
    assert scan.state == "refused"
    page = client.get(reverse("scan_detail", args=[scan.pk])).content.decode()
    assert "not numbers" in page
    assert Job.objects.get().state == "done"


def test_marks_set_in_part_are_kept(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement, state="marking", marks={}, account={})
    marked(client, scan, django_capture_on_commit_callbacks, RL="", C="", D="")
    scan.refresh_from_db()
    assert set(scan.marks) == set(NEEDED) - {"RL", "C"}
    assert scan.state == "marking"
    page = client.get(reverse("scan_marks", args=[scan.pk])).content.decode()
    assert "Still to be set: RL, C." in page


@pytest.mark.parametrize("text", ["1, 2", "here", "1 2 nan", "1 2 3 4"])
def test_a_place_that_is_none_is_said_at_its_field(
    client: Client,
    measurement: BackMeasurement,
    django_capture_on_commit_callbacks: Commit,
    text: str,
) -> None:
    scan = make_scan(measurement)
    page = marked(client, scan, django_capture_on_commit_callbacks, AL=text).content.decode()
    assert "Write three numbers" in page
    assert f'value="{text}"' in page


def test_a_place_off_the_scan_is_noticed(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement)
    page = marked(client, scan, django_capture_on_commit_callbacks, AL="9, 9, 9").content.decode()
    assert "not on the scan" in page


# --- Unit and tapes -----------------------------------------------------------------------------


def test_an_unknown_unit_is_found_by_the_tapes(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement, unit="")
    marked(client, scan, django_capture_on_commit_callbacks, unit="")
    scan.refresh_from_db()
    assert (scan.unit, scan.state) == ("m", "ready")


def test_without_unit_and_tapes_the_scan_has_no_size(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement, unit="")
    none = dict.fromkeys(TAPE_TEXTS, "")
    page = marked(client, scan, django_capture_on_commit_callbacks, unit="", **none)
    assert "nothing else tells how large the scan is" in page.content.decode()


@pytest.mark.parametrize("unit", ["cm", "mm", "in", "ft"])
def test_a_wrong_unit_is_asked_about(
    client: Client,
    measurement: BackMeasurement,
    django_capture_on_commit_callbacks: Commit,
    unit: str,
) -> None:
    scan = make_scan(measurement)
    page = marked(client, scan, django_capture_on_commit_callbacks, unit=unit).content.decode()
    assert "On the scan W to C is" in page
    scan.refresh_from_db()
    assert scan.unit == "m"  # nothing was stored


def test_a_tape_that_disagrees_is_asked_about_once_and_may_be_confirmed(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement)
    text = "105 cm"  # the scan says 96 to 98 cm
    page = marked(
        client, scan, django_capture_on_commit_callbacks, tape_withers_croup_mm=text
    ).content.decode()
    assert "% apart" in page
    assert "do not suit one scale" in page
    marked(
        client,
        scan,
        django_capture_on_commit_callbacks,
        tape_withers_croup_mm=text,
        confirm="tape_withers_croup_mm",
    )
    scan.refresh_from_db()
    assert scan.state == "ready"
    assert [check["agrees"] for check in scan.account["scale"]] == [False, True]
    assert "Differs" in client.get(reverse("scan_detail", args=[scan.pk])).content.decode()


def test_the_scale_may_be_taken_from_the_tapes(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement)
    longer = {
        "tape_withers_croup_mm": f"{LENGTHS['W', 'C'] * 107:.1f} cm",
        "tape_blade_rib_mm": f"{LENGTHS['AL', 'RL'] * 107:.1f} cm",
    }
    assert "% apart" in marked(
        client, scan, django_capture_on_commit_callbacks, **longer
    ).content.decode()  # fmt: skip
    marked(client, scan, django_capture_on_commit_callbacks, **longer, scaled_by="tapes")
    scan.refresh_from_db()
    assert scan.account["metres_per_unit"] == pytest.approx(1.07, abs=0.001)
    assert scan.account["support_mm"] == pytest.approx(470 * 1.07, abs=2)


def test_marks_that_contradict_each_other_give_the_scan_back(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement)
    places = {code: place_text(list(place)) for code, place in small_scan().marks.items()}
    swapped = {"AL": places["AR"], "AR": places["AL"], "RL": places["RR"], "RR": places["RL"]}
    marked(client, scan, django_capture_on_commit_callbacks, **swapped)
    scan.refresh_from_db()
    assert scan.state == "marking"
    assert "swapped" in scan.failure
    page = client.get(reverse("scan_marks", args=[scan.pk])).content.decode()
    assert "Left and right look swapped" in page
    assert place_text(scan.marks["AL"]) in page  # what was set is still there
    assert scan.marks["AL"] == pytest.approx(small_scan().marks["AR"], abs=1e-3)


# --- The rest -----------------------------------------------------------------------------------


def test_the_file_is_handed_out_as_it_came_and_never_shown(
    client: Client, measurement: BackMeasurement
) -> None:
    scan = make_scan(measurement)
    answer = client.get(reverse("scan_file", args=[scan.pk]))
    assert b"".join(answer.streaming_content) == b"as it came"
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["Content-Type"] == "application/octet-stream"
    assert Client().get(reverse("scan_file", args=[scan.pk])).status_code == 302
    for path in (f"/media/{scan.file.name}", f"/{scan.file.name}", f"/static/{scan.file.name}"):
        assert client.get(path).status_code == 404


def test_files_go_with_their_row(
    client: Client, measurement: BackMeasurement, django_capture_on_commit_callbacks: Commit
) -> None:
    scan = make_scan(measurement)
    folder = scan.folder
    assert folder.is_dir()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("scan_remove", args=[scan.pk]))
    assert not BackScan.objects.exists()
    assert not folder.exists()


def test_a_picture_shows_where_the_holes_are(client: Client, measurement: BackMeasurement) -> None:
    scan = make_scan(measurement)
    scan.account["holes"] = [
        {"side": "R", "behind_blade_mm": 140.0, "off_midline_mm": 100.0, "area_cm2": 21.0}
    ]
    scan.account["covered"] = [1.0, 0.97]
    scan.save()
    page = client.get(reverse("scan_detail", args=[scan.pk])).content.decode()
    assert "Holes" in page
    assert "97 % of the right" in page
    assert "21 cm²" in page


def test_a_scan_beside_a_tracing_stays_out_of_the_trend(measurement: BackMeasurement) -> None:
    beside = make_measurement(measurement.horse, method="scan")
    assert problems_of(beside) == ("scanned beside the visit's own measuring",)
    assert problems_of(measurement) == ()


def test_the_overview_of_a_visit_leads_to_its_scans(
    client: Client, measurement: BackMeasurement
) -> None:
    scan = make_scan(measurement)
    visit = measurement.visit
    assert visit is not None
    visit.visit_horses.get_or_create(horse=measurement.horse)
    url = reverse("record_horse", args=[visit.pk, measurement.horse_id])
    page = client.get(url).content.decode()
    assert reverse("scan_detail", args=[scan.pk]) in page
    assert reverse("scan_add", args=[measurement.pk]) in page


def test_the_database_guards_state_kind_and_tapes(measurement: BackMeasurement) -> None:
    for wrong in (
        {"state": "lost"},
        {"kind": "zip"},
        {"state": "refused", "failure": ""},
        {"tape_withers_croup_mm": 5.0},
    ):
        scan = make_scan(measurement)
        with pytest.raises(IntegrityError), transaction.atomic():
            BackScan.objects.filter(pk=scan.pk).update(**wrong)
