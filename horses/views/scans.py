"""A 3D scan: bringing it in, marking it, looking at what it says, and taking it over."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from horses.adapters import scans as adapter
from horses.charts.scan import back_chart, marking_figure
from horses.forms.scans import MarksForm, ScanForm, StanceForm
from horses.models import BackMeasurement, BackScan
from horses.scanning.landmarks import MARKS, OPTIONAL
from horses.scanning.surface import Surface
from horses.selectors.scans import job_of, measurement_or_404, scan_or_404, scans_of
from horses.services.scans import add_scan, mark_scan, remove_scan, use_scan
from horses.tasks import send_job
from horses.views.saving import imperial, saved

BLOCK = 2**18
STARTED = "The scan is here and is being read."


@require_http_methods(["GET", "HEAD", "POST"])
def scan_add(request: HttpRequest, measurement_pk: int) -> HttpResponse:
    measurement = measurement_or_404(measurement_pk)
    form = ScanForm(request.POST or None, request.FILES or None, imperial=imperial(request))
    scan = saved(
        request,
        form,
        lambda: add_scan(
            measurement=measurement,
            file=form.cleaned_data["file"],
            values=form.values(),
            created_by=request.user,  # type: ignore[arg-type]
        ),
    )
    if scan is None:
        context = {"form": form, "measurement": measurement, "scans": scans_of(measurement)}
        return render(request, "horses/scan_add.html", context)
    _send(scan)
    messages.success(request, STARTED)
    return redirect("scan_detail", pk=scan.pk)


def _send(scan: BackScan) -> None:
    job = job_of(scan)
    if job is not None:
        send_job(job)


@require_safe
def scan_detail(request: HttpRequest, pk: int) -> HttpResponse:
    scan = scan_or_404(pk)
    context: dict[str, Any] = {
        "scan": scan,
        "measurement": scan.measurement,
        "horse": scan.measurement.horse,
    }
    if scan.is_working:
        context["job"] = job_of(scan)
    elif scan.state == BackScan.State.MARKING:
        return redirect("scan_marks", pk=scan.pk)
    elif scan.state == BackScan.State.READY:
        context |= _result(scan)
    return render(request, "horses/scan_detail.html", context)


def _result(scan: BackScan) -> dict[str, Any]:
    traced = _traced(scan)
    rows = adapter.compared(scan.account, traced)
    return {
        "account": scan.account,
        "traced": traced,
        "apart": adapter.apart(scan.account, traced) if traced else [],
        "unread": adapter.unread(scan.account),
        "sides": adapter.side_differences(scan.account),
        "chart": back_chart(adapter.picture_of(scan, rows)),
    }


def _traced(scan: BackScan) -> BackMeasurement | None:
    """Return the measuring it was taken with, unless the scan itself was written there."""
    measurement = scan.measurement
    if scan.result_id == measurement.pk or not measurement.sections.all():
        return None
    return measurement


@require_safe
def scan_status(request: HttpRequest, pk: int) -> HttpResponse:
    """Answer how far it is; once it is over, tell the page to load itself again."""
    scan = scan_or_404(pk)
    context = {"scan": scan, "job": job_of(scan)}
    response = render(request, "horses/scan_status.html", context)
    if not scan.is_working:
        response["HX-Refresh"] = "true"
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def scan_marks(request: HttpRequest, pk: int) -> HttpResponse:
    scan = scan_or_404(pk)
    if not scan.is_marked:
        return redirect("scan_detail", pk=scan.pk)
    form = MarksForm(
        request.POST or None,
        record=scan,
        surface=Surface.opened(scan.surface_path),
        imperial=imperial(request),
    )
    marked = saved(
        request,
        form,
        lambda: mark_scan(
            scan=scan,
            values=form.values(),
            typed=form.typed,
            created_by=request.user,  # type: ignore[arg-type]
        ),
    )
    if marked is None:
        return render(request, "horses/scan_marks.html", _marking(scan, form))
    if form.missing:
        messages.success(request, f"Kept. Still to be set: {', '.join(form.missing)}.")
        return redirect("scan_marks", pk=scan.pk)
    _send(marked)
    return redirect("scan_detail", pk=scan.pk)


def _marking(scan: BackScan, form: MarksForm) -> dict[str, Any]:
    shown = Surface.opened(scan.shown_path)
    return {
        "scan": scan,
        "form": form,
        "measurement": scan.measurement,
        "horse": scan.measurement.horse,
        "marks": MARKS,
        "optional": OPTIONAL,
        "figure": marking_figure(shown.vertices, shown.faces, scan.marks),
        "size": [float(value) for value in shown.size],
    }


@require_http_methods(["GET", "HEAD", "POST"])
def scan_use(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask how the horse stood, then make a measuring of the scan."""
    scan = scan_or_404(pk)
    if scan.state != BackScan.State.READY:
        return redirect("scan_detail", pk=scan.pk)
    form = StanceForm(request.POST or None, record=scan.result or scan.measurement)
    made = saved(
        request,
        form,
        lambda: use_scan(
            scan=scan,
            conditions=form.values(),
            examiner=request.user,  # type: ignore[arg-type]
        ),
    )
    if made is None:
        context = {"scan": scan, "form": form, "horse": scan.measurement.horse}
        context["measurement"] = scan.measurement
        return render(request, "horses/scan_use.html", context)
    messages.success(request, "The scan is now a measuring: fits can be computed on it.")
    return redirect("scan_detail", pk=scan.pk)


@require_safe
def scan_file(request: HttpRequest, pk: int) -> StreamingHttpResponse:
    """Hand out the file as it came; never shown in the browser."""
    scan = scan_or_404(pk)
    path = Path(scan.file.path)
    if not path.is_file():
        raise Http404
    answer = StreamingHttpResponse(_blocks(path), content_type="application/octet-stream")
    answer["Content-Disposition"] = f'attachment; filename="scan-{scan.pk}.{scan.kind}"'
    answer["Content-Length"] = path.stat().st_size
    return answer


def _blocks(path: Path) -> Iterator[bytes]:
    """Read a file block by block, opened only once somebody reads."""
    with path.open("rb") as file:
        while block := file.read(BLOCK):
            yield block


@require_POST
def scan_remove(request: HttpRequest, pk: int) -> HttpResponse:
    measurement = remove_scan(scan=scan_or_404(pk))
    messages.success(request, "The scan and its file are removed.")
    return redirect("scan_add", measurement_pk=measurement.pk)
