"""Red flags drawn from a horse's records: what sends it to the veterinarian first."""

from collections.abc import Sequence
from datetime import date, datetime

from horses.adapters.profiles import soreness_point
from horses.models import Ride, Site, SkinMark, SorenessCheck, Station
from horses.recovery import RecoveryResult, must_refer
from horses.red_flags import Mark, skin_flags, soreness_flags, uneven_flags
from horses.seasons import BackPoint
from horses.selectors.seasons import AT_REST

SITE_WORDS = {site.value: str(site.label) for site in Site}
STATION_WORDS = {station.value: str(station.label) for station in Station}


def check_before(checks: Sequence[SorenessCheck]) -> SorenessCheck | None:
    """Return what to compare the latest check with (checks run from oldest to latest).

    It is the last check at rest before it that felt at least half as many places, so that a quick
    look at two places does not stand in for a whole check; failing that, the last one at rest.
    """
    if not checks:
        return None
    earlier = [c for c in reversed(checks[:-1]) if c.moment in AT_REST]
    enough = _places_felt(checks[-1]) / 2
    return next((c for c in earlier if _places_felt(c) >= enough), next(iter(earlier), None))


def _places_felt(check: SorenessCheck) -> int:
    return sum(row.score is not None for row in check.scores.all())


def back_flags(
    checks: Sequence[SorenessCheck],
    marks: Sequence[SkinMark],
    backs: Sequence[BackPoint],
    day: date,
) -> list[str]:
    """Return the flags in what was felt, seen and measured up to `day` (each oldest first)."""
    flags: list[str] = []
    if checks:
        before = check_before(checks)
        hot = [(r.site, r.side) for r in checks[-1].scores.all() if r.is_warm and r.swelling_mm]
        flags += soreness_flags(
            soreness_point(checks[-1]),
            soreness_point(before) if before else None,
            hot_and_swollen=hot,
            site_words=SITE_WORDS,
        )
    seen = [Mark(m.kind, _mark_words(m), m.first_seen_on) for m in marks]
    comparable = [b for b in backs if not b.is_poor]
    return [*flags, *skin_flags(seen, day), *uneven_flags(comparable, STATION_WORDS)]


def _mark_words(mark: SkinMark) -> str:
    side = {"L": ", left", "R": ", right"}.get(mark.side, "")
    where = f" at {SITE_WORDS[mark.site].lower()}" if mark.site else ""
    return f"{mark.get_kind_display()}{where}{side}"


def ride_flags(rides: Sequence[tuple[Ride, RecoveryResult]]) -> list[str]:
    """Return whether the long-ride tests ask for the veterinarian."""
    tests: list[tuple[datetime, RecoveryResult]] = [(r.ended_at, result) for r, result in rides]
    return ["Two failed recovery tests within a year."] if must_refer(tests) else []
