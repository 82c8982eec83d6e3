"""One horse on one visit with a saddle, and ways to post what a fitter types."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.test import Client

from fitting.models import Pairing
from horses.models import DEPTHS_MM, Horse
from practice.models import Visit, VisitHorse
from tests.factories import make_horse, make_pairing, make_practice, make_visit, section_points

HTMX = {"HTTP_HX_REQUEST": "true"}


@dataclass
class Site:
    """Where a fitter stands: the horse, the visit, the saddle on the horse."""

    client: Client
    visit: Visit
    horse: Horse
    pairing: Pairing

    @property
    def visit_horse(self) -> VisitHorse:
        return VisitHorse.objects.get(visit=self.visit, horse=self.horse)

    @property
    def home(self) -> str:
        return f"/visits/{self.visit.pk}/horses/{self.horse.pk}/"

    def address(self, step: str) -> str:
        """Return the address of a step; those of the pairing are written '@bare'."""
        if step.startswith("@"):
            return f"{self.home}pairings/{self.pairing.pk}/{step[1:]}/"
        return f"{self.home}{step}/"

    def get(self, step: str) -> HttpResponse:
        return self.client.get(self.address(step))

    def post(self, step: str, data: dict[str, Any], **headers: str) -> HttpResponse:
        return self.client.post(self.address(step), data, **headers)

    def htmx(self, step: str, data: dict[str, Any]) -> HttpResponse:
        return self.post(step, data, **HTMX)


def make_site(client: Client, **horse_values: Any) -> Site:
    make_practice()
    horse = make_horse(**horse_values)
    return Site(client, make_visit([horse]), horse, make_pairing(horse))


STEPS = (
    "history",
    "body",
    "soreness",
    "s1",
    "s2",
    "s3",
    "s4",
    "s5",
    "lines",
    "@safety",
    "@bare",
    "@pad",
    "@ridden",
    "@evaluation",
    "@verdict",
)


def typed_section(
    left: tuple[float, float] = (70, 174), right: tuple[float, float] = (69, 173), again: float = 1
) -> dict[str, str]:
    """Return what is typed for a station: both halves from two widths, twice, `again` mm apart."""
    data = {}
    for side, widths in (("L", left), ("R", right)):
        points = section_points(*widths)
        for trace in (1, 2):
            for depth, (_, width) in zip(DEPTHS_MM, points, strict=True):
                more = again if trace == 2 and depth else 0
                data[f"{side}{trace}_{depth}"] = f"{width + more:.1f}"
    return data
