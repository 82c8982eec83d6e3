"""Soreness by site, left and right, through time."""

from collections.abc import Mapping, Sequence

from horses.charts.panels import Panels
from horses.charts.theme import SIDE_LINES, SIDE_MARKERS, SIDE_WORDS, Chart, chart
from horses.seasons import Change, SorenessPoint

NOT_TESTED = "not tested"


def sites_that_scored(points: Sequence[SorenessPoint], order: Sequence[str]) -> list[str]:
    """Return the sites that ever scored above 0, the most often sore first."""
    total = {
        site: sum(score or 0 for p in points for (s, _), score in p.scores.items() if s == site)
        for site in order
    }
    return sorted((s for s in order if total[s]), key=lambda s: (-total[s], order.index(s)))


def soreness_chart(
    points: Sequence[SorenessPoint],
    *,
    site_names: Mapping[str, str],
    changes: Sequence[Change] = (),
) -> Chart | None:
    """Return the panels of the sites that ever scored, None when none did.

    `site_names` gives the words of each site in the order felt. A site that was not tested leaves
    a gap in its line; a quick check that never meant to feel it says nothing about it.
    """
    sites = sites_that_scored(points, list(site_names))
    if not sites:
        return None
    days = [point.day for point in points]
    titles = [site_names[site] for site in sites]
    panels = Panels(titles, days=days, changes=changes, row_px=78)
    shown: set[str] = set()
    for index, site in enumerate(sites):
        panels.axis(index, range=[-0.3, 4.3], tickvals=[0, 2, 4])
        for side in _sides(points, site):
            felt = [point for point in points if (site, side) in point.scores]
            panels.line(
                index,
                [point.day for point in felt],
                [point.score(site, side) for point in felt],
                name=SIDE_WORDS[side],
                line=SIDE_LINES[side],
                marker=SIDE_MARKERS[side],
                shown=side not in shown,
            )
            shown.add(side)
    return chart(
        panels.figure(),
        id="soreness",
        title="Soreness by site, 0 calm to 4 will not be touched",
        head=("Day", *(f"{site_names[s]} {side}" for s in sites for side in _sides(points, s))),
        rows=[_row(point, points, sites) for point in reversed(points)],
        note="A break in a line means that the site was not tested that day.",
    )


def _sides(points: Sequence[SorenessPoint], site: str) -> list[str]:
    found = {side for point in points for (s, side) in point.scores if s == site}
    return [side for side in ("L", "R", "M") if side in found]


def _row(
    point: SorenessPoint, points: Sequence[SorenessPoint], sites: Sequence[str]
) -> tuple[str, ...]:
    scores = [point.score(site, side) for site in sites for side in _sides(points, site)]
    return (
        f"{point.day:%Y-%m-%d}",
        *(NOT_TESTED if score is None else str(score) for score in scores),
    )
