"""Tells the story of the Kettlebar string."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from fitting.models import Pairing
from fitting.services.pairings import change_pairing, end_pairing, start_pairing
from horses.models import Horse
from horses.services.horses import add_horse, change_horse
from horses.units import read_hands_mm
from practice.demo import case_c as case
from practice.demo.backs import Back
from practice.demo.curves import Section
from practice.demo.stocking import Stock
from practice.demo.telling import QUICK_SITES, Sides, Story, inches, pounds
from practice.demo.tracings import photograph_front
from practice.models import Visit
from practice.services.people import set_horse_role

GEAR_LB = 15
TIP_IN = 1.0
SHIM_WEEKS = 6
STRING_WEEKS = 13
NEXT_YEAR = {**case.SPRINGS, 2025: date(2025, 4, 12)}
# Looked at again sooner than the string; these are overdue when the story ends.
SOONER = {("cinderpath", "SD-11"): date(2024, 10, 12), ("ledger", "SD-12"): date(2024, 10, 5)}


@dataclass
class String:
    """The horses and pairings of the string by their names in the story."""

    horses: dict[str, Horse]
    pairings: dict[tuple[str, str], Pairing]


def tell(story: Story, stock: Stock) -> dict[str, Visit]:
    """Return the visits by season and year."""
    horses = {key: _horse(story, stock, spec) for key, spec in case.HORSES.items()}
    string = String(horses, {})
    for key in horses:
        for place, tag in enumerate(case.SADDLES):
            string.pairings[key, tag] = _begin(story, stock, string, key, tag, place)
    visits = {}
    for year in case.SPRINGS:
        visits[f"spring {year}"] = _spring(story, stock, string, year)
        visits[f"mid {year}"] = _round(story, stock, string, year, 1, case.MIDS[year])
        visits[f"fall {year}"] = _round(story, stock, string, year, 2, case.FALLS[year])
        _rides(story, string, year)
        if year == case.SOLD_ON.year - 1:
            _sell(story, stock, string)
    return visits


def _horse(story: Story, stock: Stock, spec: case.StringHorse) -> Horse:
    horse = add_horse(
        barn_name=spec.name,
        sex=spec.sex,
        birth_date=story.calendar.day(date(spec.born, 5, 1)),
        birth_precision="year",
        breed="stock type",
        height_mm=read_hands_mm(spec.height),
        typed={"height_mm": spec.height},
        use="ranch string",
        place=stock.places["kettlebar"],
        notes=spec.notes,
    )
    set_horse_role(
        horse=horse,
        client=stock.clients["kettlebar"],
        role="owner",
        from_date=story.calendar.day(case.SPRINGS[2022]),
    )
    return horse


def _begin(story: Story, stock: Stock, string: String, key: str, tag: str, place: int) -> Pairing:
    shim = 6.0 if (key, tag) == ("anvil", "SD-12") else 0.0
    return start_pairing(
        horse=string.horses[key],
        saddle=stock.saddles[tag],
        from_date=story.calendar.day(case.SPRINGS[2022]),
        pad=stock.pads["blanket" if key == "cinderpath" else "ranch felt"],
        rider=stock.riders[case.HORSES[key].riders[place]],
        use="ranch string",
        hours_per_day=case.USUAL_HOURS.get((key, tag)),
        ropes=True,
        gear_mass_kg=pounds(GEAR_LB),
        tip_behind_blade_mm=inches(TIP_IN),
        shim_front_left_mm=shim,
        shim_front_right_mm=shim,
        typed={"tip_behind_blade_mm": f"{TIP_IN:g} in", "gear_mass_kg": f"{GEAR_LB} lb"},
    )


def _in_string(story: Story, key: str, day: date) -> bool:
    return key != "barn_door" or day < case.SOLD_ON


def _visit(story: Story, stock: Stock, string: String, day: date, reason: str) -> Visit:
    present = [h for key, h in string.horses.items() if _in_string(story, key, day)]
    client, place = stock.clients["kettlebar"], stock.places["kettlebar"]
    return story.visit(day, "string", client, place, present, 420, reason)


def _spring(story: Story, stock: Stock, string: String, year: int) -> Visit:
    """Measure every horse and judge it under both saddles."""
    day = case.SPRINGS[year]
    visit = _visit(story, stock, string, day, "Start of the season: both saddles on every horse")
    for key, horse in string.horses.items():
        if not _in_string(story, key, day):
            continue
        told = case.HISTORIES.get((key, year), {"what_changed": "Nothing to tell."})
        story.history(visit, horse, told)
        _feel(story, visit, horse, key, year, 0)
        measurement = story.measure(visit, horse, _back(key, year), coat="winter")
        if key == "ledger" and year == max(case.SPRINGS):
            section = _back(key, year).s1
            photograph_front(measurement=measurement, section=section, examiner=story.lead)
        for tag in case.SADDLES:
            pairing = string.pairings[key, tag]
            if not pairing.is_current:
                continue
            _set_shims(story, key, tag, year, pairing)
            _check_slip(story, visit, key, tag, year, pairing)
            story.evaluate(visit, pairing, measurement)
            verdict = case.MATRIX[key][tag][year]
            story.sign(visit, pairing, _verdict(verdict, NEXT_YEAR[year + 1]))
            if year == max(case.SPRINGS) and verdict[0] == case.NOT_THIS:
                end_pairing(pairing=pairing, to_date=story.calendar.day(day))
    return story.finish(visit)


def _back(key: str, year: int) -> Back:
    spec = case.HORSES[key]
    return Back(
        girth_in=spec.girth_in,
        length_in=spec.length_in,
        condition=5,
        muscle=3,
        s1=case.LEDGER_S1[year] if key == "ledger" else spec.s1,
        s3=Section.with_angle("S3", spec.s3_deg),
        s5=Section.with_angle("S5", spec.s5_deg),
        rock_mm=(spec.rock_mm, spec.rock_mm),
        support_in=spec.support_in,
        height=spec.height,
    )


def _feel(
    story: Story, visit: Visit, horse: Horse, key: str, year: int, season: int, notes: str = ""
) -> None:
    """Feel the few sites of a string's round; a horse that was not ridden is not tested."""
    scores = _scores(key, year, season)
    unsaid = None if scores["BS"][0] is None else 0
    story.feel(visit, horse, scores, sites=QUICK_SITES, others=unsaid, notes=notes)


def _scores(key: str, year: int, season: int) -> dict[str, Sides]:
    """Return scores by site; the one lopsided check of the story is sore on the right."""
    blade, rear, loin = (scores[season] for scores in case.SORENESS[key][year])
    is_lopsided = key == "ledger" and year == 2022 and blade is not None
    return {
        "BS": (blade - 1 if is_lopsided and blade else blade, blade),
        "RB": (rear, rear),
        "LO": (loin, loin),
    }


def _set_shims(story: Story, key: str, tag: str, year: int, pairing: Pairing) -> None:
    """Ledger's right side is filled up in front while it grows back; Anvil's shims are renewed.

    Only the spring visit looks at Anvil's, so that they are long past their date by the end of
    the season.
    """
    until = story.calendar.day(case.SPRINGS[year]) + timedelta(weeks=SHIM_WEEKS)
    if (key, tag) == ("anvil", "SD-12"):
        change_pairing(pairing=pairing, shims_until=until)
    if (key, tag) == ("ledger", "SD-11"):
        shim = {2022: 0.0, 2023: 6.0, 2024: 0.0}[year]
        change_pairing(
            pairing=pairing, shim_front_right_mm=shim, shims_until=until if shim else None
        )


def _check_slip(
    story: Story, visit: Visit, key: str, tag: str, year: int, pairing: Pairing
) -> None:
    if (key, tag) == ("ledger", "SD-11"):
        slip = case.LEDGER_SLIP_MM[year]
        outcome = "bad" if slip > 10 else "good"
        words = "to the right in 10 minutes, with both riders" if slip > 10 else "in 10 minutes"
        story.check(visit, pairing, [("ridden", "slip", outcome, 0, slip, words)])


def _verdict(verdict: case.Verdict, next_check: date | None) -> dict[str, Any]:
    word, hours, words = verdict
    return {
        "word": word,
        "hours_limit": hours,
        "reason": words if word in {case.NOT_THIS, case.VET} else "",
        "changes": words if word not in {case.NOT_THIS, case.VET} else "",
        "next_check_on": None if word == case.VET else next_check,
    }


def _round(story: Story, stock: Stock, string: String, year: int, season: int, day: date) -> Visit:
    """Feel every horse that is in work; at the end of the season sign what holds through winter."""
    reason = "Middle of the season: backs" if season == 1 else "End of the season: backs"
    visit = _visit(story, stock, string, day, reason)
    for key, horse in string.horses.items():
        if not _in_string(story, key, day):
            continue
        _feel(story, visit, horse, key, year, season, case.VISIT_NOTES.get((key, day), ""))
    if season == 1 and year == 2023:
        _thinner_shim(story, string, day)
    if season == 2:
        _sign_round(story, string, visit, year, day)
    return story.finish(visit)


def _thinner_shim(story: Story, string: String, day: date) -> None:
    until = story.calendar.day(day) + timedelta(weeks=SHIM_WEEKS)
    change_pairing(
        pairing=string.pairings["ledger", "SD-11"], shim_front_right_mm=3.0, shims_until=until
    )


def _sign_round(story: Story, string: String, visit: Visit, year: int, day: date) -> None:
    for (key, tag), pairing in string.pairings.items():
        verdict = case.MATRIX[key][tag].get(year)
        if verdict is None or verdict[0] in {case.NOT_THIS, case.VET} or not pairing.is_current:
            continue
        next_check = SOONER.get((key, tag)) if year == max(case.SPRINGS) else None
        story.sign(
            visit,
            pairing,
            _verdict(verdict, next_check or day + timedelta(weeks=STRING_WEEKS)),
        )


def _rides(story: Story, string: String, year: int) -> None:
    moments = ("before", "after", "next_day", "second_day")
    for day, key, tag, hours, site, scores in case.RIDES:
        if day.year != year:
            continue
        checks = {
            moment: {site: (score, score)} for moment, score in zip(moments, scores, strict=True)
        }
        story.ride(string.horses[key], day, hours, string.pairings[key, tag], checks)
        if (key, year) == ("cinderpath", 2023):
            _change_pad(string)


def _change_pad(string: String) -> None:
    pairing = string.pairings["cinderpath", "SD-11"]
    felt = string.pairings["anvil", "SD-11"].pad
    change_pairing(pairing=pairing, pad=felt, notes="Pad changed after the slow recovery.")


def _sell(story: Story, stock: Stock, string: String) -> None:
    horse, day = string.horses["barn_door"], story.calendar.day(case.SOLD_ON)
    for tag in case.SADDLES:
        end_pairing(pairing=string.pairings["barn_door", tag], to_date=day)
    set_horse_role(
        horse=horse,
        client=stock.clients["kettlebar"],
        role="owner",
        from_date=story.calendar.day(case.SPRINGS[2022]),
        to_date=day,
    )
    change_horse(horse=horse, state="sold")
