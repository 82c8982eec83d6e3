"""Scans as their pages need them."""

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from horses.models import BackMeasurement, BackScan, Job

KINDS = ("read_scan", "measure_scan")


def measurement_or_404(pk: int) -> BackMeasurement:
    rows = BackMeasurement.objects.select_related("horse").prefetch_related("sections", "lines")
    return get_object_or_404(rows, pk=pk)


def scan_or_404(pk: int) -> BackScan:
    """Return a scan with the measuring it was taken with and the one made from it."""
    rows = BackScan.objects.select_related("measurement__horse", "result", "created_by")
    return get_object_or_404(
        rows.prefetch_related("measurement__sections", "measurement__lines"), pk=pk
    )


def scans_of(measurement: BackMeasurement) -> QuerySet[BackScan]:
    return BackScan.objects.filter(measurement=measurement).defer("account")


def job_of(scan: BackScan) -> Job | None:
    """Return the job that works on a scan, the latest if there were several."""
    return Job.objects.filter(kind__in=KINDS, arguments__scan=scan.pk).first()
