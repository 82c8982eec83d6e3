"""Tells Corporal Thistle's story."""

from typing import Any

from fitting.models import Pairing
from fitting.services.checks import record_safety_check
from fitting.services.pairings import end_pairing, start_pairing
from horses.models import Horse
from horses.services.horses import add_horse
from horses.services.soreness import add_skin_mark
from horses.units import read_hands_mm
from practice.demo import case_a as case
from practice.demo.stocking import Stock
from practice.demo.telling import Story, inches, pounds
from practice.demo.tracings import photograph_front
from practice.models import Visit
from practice.services.people import set_horse_role

SOUND = {"tree", "torsion", "rigging", "billets", "cinch", "stitching", "underside", "symmetry"}
WINTER_COATS = {"A4", "A6"}
GEAR_LB = 20


def tell(story: Story, stock: Stock) -> dict[str, Visit]:
    """Return the visits by their names in the story."""
    horse = _horse(story, stock)
    pairings = {span["saddle"]: _begin(story, stock, horse, span) for span in case.SPANS}
    visits = {}
    for name in case.DAYS:
        visits[name] = _visit(story, stock, horse, name, pairings)
    for span in case.SPANS:
        if span["to"]:
            end_pairing(pairing=pairings[span["saddle"]], to_date=story.calendar.day(span["to"]))
    _rides(story, horse, pairings)
    for mark in case.MARKS:
        seen = story.calendar.day(mark["first_seen_on"])
        add_skin_mark(horse=horse, **{**mark, "first_seen_on": seen})
    return visits


def _horse(story: Story, stock: Stock) -> Horse:
    values = {**case.HORSE, "birth_date": story.calendar.day(case.HORSE["birth_date"])}
    horse = add_horse(
        **values,
        height_mm=read_hands_mm(case.HEIGHT),
        typed={"height_mm": case.HEIGHT},
        place=stock.places["tinbrook"],
    )
    set_horse_role(
        horse=horse,
        client=stock.clients["nettleworth"],
        role="owner",
        from_date=story.calendar.day(case.SPANS[0]["from"]),
    )
    return horse


def _begin(story: Story, stock: Stock, horse: Horse, span: dict[str, Any]) -> Pairing:
    return start_pairing(
        horse=horse,
        saddle=stock.saddles[span["saddle"]],
        from_date=story.calendar.day(span["from"]),
        pad=stock.pads[span["pad"]],
        rider=stock.riders["garrick"],
        use="ranch work, roping",
        hours_per_day=span["hours"],
        ropes=True,
        mounts_from_ground=True,
        gear_mass_kg=pounds(GEAR_LB),
        tip_behind_blade_mm=inches(span["tip_in"]),
        typed={"tip_behind_blade_mm": f"{span['tip_in']:g} in", "gear_mass_kg": f"{GEAR_LB} lb"},
        notes="Mounts from the ground, near side.",
    )


def _visit(
    story: Story, stock: Stock, horse: Horse, name: str, pairings: dict[str, Pairing]
) -> Visit:
    kind, minutes, reason = case.VISITS[name]
    client, place = stock.clients["nettleworth"], stock.places["tinbrook"]
    visit = story.visit(case.DAYS[name], kind, client, place, [horse], minutes, reason)
    story.history(visit, horse, case.HISTORIES.get(name, {"what_changed": "Nothing to tell."}))
    story.feel(visit, horse, case.SORENESS.get(name, {}), notes=case.NOTES.get(name, ""))
    coat = "winter" if name in WINTER_COATS else "summer"
    measurement = story.measure(visit, horse, case.BACKS[name], coat=coat)
    if name == max(case.DAYS):
        photograph_front(measurement=measurement, section=case.BACKS[name].s1, examiner=story.lead)
    tag, end_in, gap_mm = case.FITS[name]
    record_safety_check(
        saddle=stock.saddles[tag],
        visit=visit,
        checked_on=visit.starts_local.date(),
        examiner=story.lead,
        items=dict.fromkeys(sorted(SOUND), "ok"),
        result="safe",
        notes="Rear cinch loose: take it up." if name == "A1" else "",
    )
    story.check(visit, pairings[tag], _checks(name, end_in, gap_mm))
    story.evaluate(visit, pairings[tag], measurement)
    story.sign(visit, pairings[tag], case.VERDICTS.get(name, {"word": "carry_on"}))
    return story.finish(visit)


def _checks(name: str, end_in: float, gap_mm: float) -> list[case.Check]:
    """Return the full list where the story gives it, else the few checks of a re-check."""
    if name == "A1":
        return case.CHECKS_OLD
    if name == "A3":
        return case.CHECKS_NEW
    end_mm = inches(end_in)
    return [
        ("bare", "position", "good", 25.4, 25.4, ""),
        ("bare", "channel", "good", None, None, ""),
        ("bare", "contact", "good", None, None, "even, fading at both ends"),
        ("bare", "gap", "good", gap_mm, gap_mm, ""),
        ("bare", "length", "good", end_mm, end_mm, ""),
        ("ridden", "slip", "good", 0, 0, ""),
    ]


def _rides(story: Story, horse: Horse, pairings: dict[str, Pairing]) -> None:
    for day, hours, tag, reporter, felt in case.RIDES:
        checks = {
            moment: {"BS": (blade, blade), "LO": (loin, loin)}
            for moment, (blade, loin) in zip(
                ("before", "after", "next_day", "second_day"), felt, strict=True
            )
        }
        story.ride(
            horse,
            day,
            hours,
            pairings[tag],
            checks,
            others=None if reporter else 0,
            reported_by=reporter,
        )
