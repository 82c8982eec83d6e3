"""Writes down one visit of the story through the services, as a fitter would at the horse."""

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from fitting.models import FitEvaluation, Pairing
from fitting.services.checks import record_hand_check
from fitting.services.evaluations import evaluate_now, start_evaluation
from fitting.services.verdicts import sign_verdict
from horses.models import BackMeasurement, Horse, Ride, Side, Site, SorenessCheck, sides_of
from horses.services.measurements import record_back_measurement, record_line, record_section
from horses.services.soreness import record_ride, record_soreness_check
from horses.units import KG_PER_POUND, MM_PER_INCH, read_hands_mm
from practice.demo import curves
from practice.demo.backs import Back
from practice.demo.calendar import ZONE, Calendar
from practice.models import Client, Place, User, Visit, VisitHorse
from practice.services.recording import finish_recording, take_history
from practice.services.visits import book_visit

Sides = tuple[int | None, int | None]
HOURS_AFTER = {"after": 1 / 3, "next_day": 24.0, "second_day": 48.0}
IN_DEPTH = timedelta(days=365)  # older fits go without bands, so that the demo is there sooner
SEED = 15  # of the repeat differences between two tracings
S5_AHEAD_IN = 0.5
QUICK_SITES = ("WS", "BS", "RB", "LO", "GI")  # felt on a string's round
RIDE_SITES = ("BS", "MB", "RB", "LO")  # felt on each side of a long ride


def inches(value: float) -> float:
    return value * MM_PER_INCH


def pounds(value: float) -> float:
    return value * KG_PER_POUND


def scores_at(
    sites: Iterable[str], named: Mapping[str, Sides], others: int | None = 0
) -> dict[tuple[str, str], dict[str, Any]]:
    """Return a score for each side of these sites; `others` is what the story leaves unsaid."""
    scores = {}
    for site in sites:
        for side in sides_of(site):
            left, right = named.get(site, (others, others))
            score = right if side == Side.RIGHT else left
            scores[site, side] = {"score": score, "tone": _tone(score)}
    return scores


def _tone(score: int | None) -> str:
    if score is None:
        return ""
    return "normal" if score == 0 else "tight"


@dataclass
class Story:
    """The calendar, who writes, and how far the telling is."""

    calendar: Calendar
    lead: User
    helper: User
    on_evaluation: Callable[[int], None]
    chance: random.Random = field(default_factory=lambda: random.Random(SEED))
    evaluated: int = 0

    # --- visits -----------------------------------------------------------------------------------
    def visit(
        self,
        day: date,
        kind: str,
        client: Client,
        place: Place,
        horses: Iterable[Horse],
        minutes: int,
        reason: str = "",
        hour: int = 9,
    ) -> Visit:
        return book_visit(
            kind=kind,
            client=client,
            place=place,
            fitter=self.lead,
            starts_at=self.calendar.moment(day, hour),
            time_zone=ZONE,
            minutes=minutes,
            horses=horses,
            reason=reason,
        )

    def history(self, visit: Visit, horse: Horse, values: Mapping[str, Any]) -> VisitHorse:
        row = VisitHorse.objects.get(visit=visit, horse=horse)
        return take_history(visit_horse=row, values=dict(values))

    def finish(self, visit: Visit) -> Visit:
        return finish_recording(visit=visit)

    # --- the horse --------------------------------------------------------------------------------
    def feel(
        self,
        visit: Visit,
        horse: Horse,
        named: Mapping[str, Sides],
        *,
        sites: Iterable[str] = Site.values,
        others: int | None = 0,
        notes: str = "",
    ) -> SorenessCheck:
        return record_soreness_check(
            horse=horse,
            visit=visit,
            checked_at=visit.starts_at + timedelta(minutes=20),
            examiner=self.lead,
            scores=scores_at(sites, named, others),
            notes=notes,
        )

    def measure(
        self, visit: Visit, horse: Horse, back: Back, *, coat: str = "summer", notes: str = ""
    ) -> BackMeasurement:
        """Record body, five sections on both sides laid on twice, and three lines."""
        values, typed = _body(back)
        values |= {**_CONDITIONS, "coat": coat, "notes": notes}
        measurement = record_back_measurement(
            horse=horse,
            measured_on=visit.starts_local.date(),
            examiner=self.lead,
            visit=visit,
            values=values,
            typed=typed,
        )
        self._profiles(measurement, back)
        return measurement

    def _profiles(self, measurement: BackMeasurement, back: Back) -> None:
        end = inches(back.support_in - S5_AHEAD_IN)
        stations = curves.five_sections(back.s1, back.s3, back.s5, end_mm=end)
        for name, (distance, section) in stations.items():
            for side in ("L", "R"):
                repeat = curves.repeat_difference(self.chance)
                traces = curves.two_traces(section.side(side), repeat)
                for trace, points in enumerate(traces, start=1):
                    record_section(
                        measurement=measurement,
                        station=name,
                        side=side,
                        trace=trace,
                        points=points,
                        behind_blade_mm=distance,
                    )
        length = inches(back.support_in)
        for line, rock in zip(("left_bar", "right_bar"), back.rock_mm, strict=True):
            points = curves.bar_line(rock, length)
            record_line(
                measurement=measurement,
                line=line,
                points=points,
                off_midline_mm=curves.BAR_LINE_MM,
            )
        mean_rock = sum(back.rock_mm) / 2
        points = curves.midline(stations, mean_rock, length)
        record_line(measurement=measurement, line="midline", points=points)

    def ride(
        self,
        horse: Horse,
        day: date,
        hours: float,
        pairing: Pairing,
        checks: Mapping[str, Mapping[str, Sides]],
        *,
        others: int | None = 0,
        reported_by: str = "",
    ) -> Ride:
        """Record a long ride with the back before, after, next day and second day."""
        ended_at = self.calendar.moment(day, 19)
        ride = record_ride(
            horse=horse,
            ended_at=ended_at,
            hours=hours,
            pairing=pairing,
            terrain="open range, hills",
            weather="dry",
            reported_by=reported_by,
        )
        for moment, named in checks.items():
            record_soreness_check(
                horse=horse,
                ride=ride,
                moment=moment,
                checked_at=_moment_of(ended_at, moment, hours),
                examiner=None if reported_by else self.helper,
                scores=scores_at(RIDE_SITES, named, others),
                notes=f"Reported by {reported_by}" if reported_by else "",
            )
        return ride

    # --- the fit ----------------------------------------------------------------------------------
    def check(
        self,
        visit: Visit,
        pairing: Pairing,
        checks: Iterable[tuple[str, str, str, float | None, float | None, str]],
    ) -> None:
        for phase, code, outcome, left_mm, right_mm, note in checks:
            record_hand_check(
                pairing=pairing,
                visit=visit,
                phase=phase,
                code=code,
                outcome=outcome,
                left_mm=left_mm,
                right_mm=right_mm,
                note=note,
            )

    def evaluate(
        self, visit: Visit, pairing: Pairing, measurement: BackMeasurement
    ) -> FitEvaluation:
        self.evaluated += 1
        self.on_evaluation(self.evaluated)
        evaluation = start_evaluation(
            pairing=pairing, measurement=measurement, visit=visit, created_by=self.lead
        )
        age = self.calendar.today - evaluation.evaluated_on
        return evaluate_now(evaluation=evaluation, in_depth=age < IN_DEPTH)

    def sign(self, visit: Visit, pairing: Pairing, verdict: Mapping[str, Any]) -> None:
        values = dict(verdict)
        if values.get("next_check_on"):
            values["next_check_on"] = self.calendar.day(values["next_check_on"])
        sign_verdict(
            pairing=pairing,
            visit=visit,
            confidence="measured",
            signed_by=self.lead,
            signed_at=visit.ends_at,
            **values,
        )


_CONDITIONS = {
    "method": "curve",
    "stood_square": True,
    "rested_hind_foot": False,
    "restless": False,
    "head": "normal",
    "ground": "concrete",
    "work": "before",
    "temperature_c": 18.0,
}


def _body(back: Back) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the canonical body values, and the words in which they were said."""
    said = {
        "girth_mm": back.girth_in,
        "length_mm": back.length_in,
        "support_length_mm": back.support_in,
        "croup_over_withers_mm": back.croup_in,
    }
    if back.groove_in is not None:
        said["girth_groove_mm"] = back.groove_in
    values: dict[str, Any] = {name: inches(value) for name, value in said.items()}
    typed = {name: f"{value:g} in" for name, value in said.items()}
    values |= {
        "height_mm": read_hands_mm(back.height),
        "condition_score": back.condition,
        "muscle_score": back.muscle,
    }
    typed["height_mm"] = back.height
    if back.hollow_mm is not None:
        values["hollow_left_mm"], values["hollow_right_mm"] = back.hollow_mm
    return values, typed


def _moment_of(ended_at: datetime, moment: str, hours: float) -> datetime:
    if moment == "before":
        return ended_at - timedelta(hours=hours + 1)
    return ended_at + timedelta(hours=HOURS_AFTER[moment])
