"""A scan that has been read, marked and measured, for tests of pages."""

from functools import cache

from django.core.files.base import ContentFile

from horses.adapters import scans as adapter
from horses.models import BackMeasurement, BackScan
from horses.scanning.measure import ScannedBack, measure
from horses.scanning.resample import STEP
from horses.scanning.thinning import SHOWN_FACES, thin
from tests.horses.scan_makers import MadeScan, scan_of

TAPES_MM = {"tape_withers_croup_mm": 981.0, "tape_blade_rib_mm": 490.0}


@cache
def small_scan() -> MadeScan:
    return scan_of(step=2.4 * STEP)


@cache
def _measured() -> ScannedBack:
    wanted = adapter.wanted_of(BackMeasurement(pk=0))
    made = small_scan()
    return measure(made.surface, made.marks, metres_per_unit=1.0, wanted=wanted)


def make_scan(measurement: BackMeasurement, **values: object) -> BackScan:
    """Store a ready scan with all its files."""
    made = small_scan()
    marks = {code: place.tolist() for code, place in made.marks.items()}
    scan = BackScan(measurement=measurement, kind="stl", unit="m", marks=marks, **TAPES_MM)
    scan.file.save("scan.stl", ContentFile(b"as it came"), save=False)
    back = _measured()
    standard = {
        "state": "ready",
        "triangles": len(made.surface.faces),
        "account": adapter.account_of(scan, back, back),
    }
    for name, value in {**standard, **values}.items():
        setattr(scan, name, value)
    scan.save()
    made.surface.save(scan.surface_path)
    thin(made.surface, SHOWN_FACES).save(scan.shown_path)
    back.grid.save(scan.grid_path)
    return scan
