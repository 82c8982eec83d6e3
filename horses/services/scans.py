"""A scan's way from a stranger's file to a measuring, step by step."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from horses.adapters import scans as adapter
from horses.models import BackMeasurement, BackScan, Job, ProfileMethod
from horses.scanning.landmarks import NEEDED
from horses.scanning.load import read_scan
from horses.scanning.measure import ScannedBack, measure
from horses.scanning.precheck import extension_of
from horses.scanning.surface import CannotUseScan, Surface
from horses.scanning.thinning import SHOWN_FACES, thin
from horses.services.jobs import queue_job, report_progress
from horses.services.measurements import record_line, record_section
from horses.services.records import merged_typed, store

if TYPE_CHECKING:
    from practice.models import User

READ, MEASURE = "read_scan", "measure_scan"
NOT_MEASURED = "This scan has not been measured yet."
# What a measuring made beside a tracing takes over from it: the same horse on the same day.
BODY = (
    *("girth_mm", "length_mm", "height_mm", "croup_over_withers_mm", "scale_mass_kg"),
    *("condition_score", "muscle_score", "hollow_left_mm", "hollow_right_mm"),
    *("girth_groove_mm", "temperature_c"),
)


@transaction.atomic
def add_scan(
    *,
    measurement: BackMeasurement,
    file: "UploadedFile[Any]",
    values: dict[str, Any],
    created_by: "User | None" = None,
) -> BackScan:
    """Keep the file and queue the job that reads it; the caller sends it."""
    kind = _kind_of(file)
    scan = BackScan(measurement=measurement, kind=kind, created_by=created_by)
    scan.file = file
    scan = store(scan, **values)
    _queue(READ, scan, created_by)
    return scan


def _kind_of(file: "UploadedFile[Any]") -> str:
    try:
        return extension_of(file.name or "")
    except CannotUseScan as problem:
        raise ValidationError({"file": str(problem)}) from problem


def _queue(kind: str, scan: BackScan, created_by: "User | None") -> Job:
    return queue_job(kind=kind, arguments={"scan": scan.pk}, created_by=created_by)


def run_reading(*, job: Job) -> None:
    """Do the job of reading a file. Doing it twice gives the same."""
    scan = BackScan.objects.get(pk=job.arguments["scan"])
    report_progress(job=job, percent=10, step="Reading the file")
    try:
        surface = read_scan(Path(scan.file.path), scan.kind)
    except CannotUseScan as problem:
        _refuse(scan, str(problem))
        return
    report_progress(job=job, percent=80, step="Thinning it for the phone")
    surface.save(scan.surface_path)
    thin(surface, SHOWN_FACES).save(scan.shown_path)
    _has_been_read(scan, surface)


@transaction.atomic
def _has_been_read(scan: BackScan, surface: Surface) -> BackScan:
    return store(scan, state=BackScan.State.MARKING, triangles=surface.faces_read, failure="")


@transaction.atomic
def _refuse(scan: BackScan, why: str) -> BackScan:
    return store(scan, state=BackScan.State.REFUSED, failure=why)


@transaction.atomic
def mark_scan(
    *,
    scan: BackScan,
    values: dict[str, Any],
    typed: dict[str, str],
    created_by: "User | None" = None,
) -> BackScan:
    """Keep marks, unit and tapes; once all needed marks are set, queue the measuring.

    The caller sends the job.
    """
    if not scan.is_marked:
        raise ValidationError("This scan is being worked on. Wait until that is over.")
    missing = [code for code in NEEDED if code not in values["marks"]]
    state = BackScan.State.MARKING if missing else BackScan.State.MEASURING
    texts = merged_typed(scan.typed, values, typed)
    store(scan, **values, typed=texts, state=state, failure="", account={})
    if not missing:
        _queue(MEASURE, scan, created_by)
    return scan


def run_measuring(*, job: Job) -> None:
    """Do the job of measuring a marked scan. Doing it twice gives the same."""
    scan = BackScan.objects.select_related("measurement").get(pk=job.arguments["scan"])
    report_progress(job=job, percent=20, step="Laying the back on its midline")
    try:
        back = _measured(scan, scan.midline)
        report_progress(job=job, percent=70, step="Comparing the two midlines")
        account = adapter.account_of(scan, back, _other_midline(scan))
    except CannotUseScan as problem:
        _cannot_measure(scan, str(problem))
        return
    back.grid.save(scan.grid_path)
    _has_been_measured(scan, account)


def _measured(scan: BackScan, midline: str) -> ScannedBack:
    return measure(
        Surface.opened(scan.surface_path),
        adapter.marks_of(scan.marks),
        metres_per_unit=adapter.metres_per_unit(scan),
        wanted=adapter.wanted_of(scan.measurement),
        croup_over_withers=adapter.croup_over_withers_m(scan.measurement),
        midline=midline,
    )


def _other_midline(scan: BackScan) -> ScannedBack | None:
    """Return the same by the other midline: where they differ, the horse or a mark is uneven."""
    (other,) = set(BackScan.Midline.values) - {scan.midline}
    try:
        return _measured(scan, other)
    except CannotUseScan:
        return None


@transaction.atomic
def _cannot_measure(scan: BackScan, why: str) -> BackScan:
    """Give it back to be marked anew: the file is good, the marks do not fit."""
    return store(scan, state=BackScan.State.MARKING, failure=why)


@transaction.atomic
def _has_been_measured(scan: BackScan, account: dict[str, Any]) -> BackScan:
    return store(scan, state=BackScan.State.READY, account=account, failure="")


@transaction.atomic
def use_scan(
    *,
    scan: BackScan,
    conditions: dict[str, Any],
    examiner: "User | None" = None,
) -> BackMeasurement:
    """Make a measuring of a measured scan, or make it anew from the scan's latest account.

    Where the measuring it was taken with holds no sections or lines, they go there; otherwise into
    one beside it on the same day, without the visit, so that both can be compared. What was traced
    or typed since into the measuring made from it is not written over: that makes another, too.
    """
    if scan.state != BackScan.State.READY:
        raise ValidationError(NOT_MEASURED)
    target = _target_of(scan, examiner)
    values = {**conditions, "method": BackMeasurement.Method.SCAN}
    values["support_length_mm"] = target.support_length_mm or scan.account["support_mm"]
    if target.pk != scan.measurement_id:
        values |= {name: getattr(scan.measurement, name) for name in BODY}
        values["support_length_mm"] = scan.account["support_mm"]
    store(target, **values)
    _write_profiles(target, scan.account)
    store(scan, result=target)
    return target


def _target_of(scan: BackScan, examiner: "User | None") -> BackMeasurement:
    made, measurement = scan.result, scan.measurement
    if made is not None and not _holds_hand_work(made):
        return made
    if not measurement.sections.exists() and not measurement.lines.exists():
        return measurement
    day: date = measurement.measured_on
    return BackMeasurement(horse=measurement.horse, measured_on=day, examiner=examiner)


def _holds_hand_work(measurement: BackMeasurement) -> bool:
    return any(
        rows.exclude(method=ProfileMethod.SCAN).exists()
        for rows in (measurement.sections, measurement.lines)
    )


def _write_profiles(measurement: BackMeasurement, account: dict[str, Any]) -> None:
    """Write every section and line with points enough; what a hole took away is left out."""
    measurement.sections.all().delete()
    measurement.lines.all().delete()
    for half in account["sections"]:
        if len(half["points"]) >= adapter.LEAST_POINTS:
            record_section(
                measurement=measurement,
                station=half["station"],
                side=half["side"],
                trace=1,
                points=half["points"],
                behind_blade_mm=half["behind_blade_mm"],
                method=ProfileMethod.SCAN,
            )
    for line in account["lines"]:
        if len(line["points"]) >= adapter.LEAST_POINTS:
            record_line(
                measurement=measurement,
                line=line["line"],
                points=line["points"],
                off_midline_mm=line["off_midline_mm"],
                method=ProfileMethod.SCAN,
            )


@transaction.atomic
def remove_scan(*, scan: BackScan) -> BackMeasurement:
    """Take a scan and its files out; a measuring made from it stays."""
    measurement = scan.measurement
    scan.delete()
    return measurement
