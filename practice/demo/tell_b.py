"""Tells Pennywhistle Fern's story."""

from fitting.models import Pairing
from fitting.services.pairings import change_pairing, end_pairing, start_pairing
from fitting.services.tack import change_tree
from horses.models import Horse
from horses.services.horses import add_horse, change_horse
from horses.units import read_hands_mm
from practice.demo import case_b as case
from practice.demo.stocking import CM, Stock
from practice.demo.telling import Story
from practice.demo.tracings import photograph_front
from practice.models import Visit
from practice.services.people import change_rider, set_horse_role

TIP_MM = 40.0  # the points of a panelled saddle stay two to three fingers behind the blade
WINTER_COATS = {"B3", "B4"}


def tell(story: Story, stock: Stock) -> dict[str, Visit]:
    """Return the visits by their names in the story."""
    horse = _horse(story, stock)
    pairing = _begin(story, stock, horse, "B1")
    visits = {}
    for name in case.DAYS:
        visits[name], pairing = _visit(story, stock, horse, name, pairing)
        if case.DAYS[name] > case.RIDER_OF_AGE_ON and stock.riders["tess"].is_minor:
            change_rider(rider=stock.riders["tess"], is_minor=False, guardian="")
    change_horse(horse=horse, sex="mare")
    return visits


def _horse(story: Story, stock: Stock) -> Horse:
    height = case.BACKS["B8"].height
    values = {**case.HORSE, "birth_date": story.calendar.day(case.HORSE["birth_date"])}
    horse = add_horse(
        **values,
        height_mm=read_hands_mm(height),
        typed={"height_mm": height},
        place=stock.places["lantern_hill"],
    )
    set_horse_role(
        horse=horse,
        client=stock.clients["marrowby"],
        role="owner",
        from_date=story.calendar.day(case.DAYS["B1"]),
    )
    return horse


def _begin(story: Story, stock: Stock, horse: Horse, name: str) -> Pairing:
    head = case.HEADS[name][1][0]
    return start_pairing(
        horse=horse,
        saddle=stock.saddles[case.SADDLE],
        from_date=story.calendar.day(case.DAYS[name]),
        pad=stock.pads["cotton"],
        rider=stock.riders["tess"],
        use="all-round, young horse",
        hours_per_day=0.75,
        gear_mass_kg=0,
        tip_behind_blade_mm=TIP_MM,
        notes=f"Head set to {head:g} degrees.",
    )


def _visit(
    story: Story, stock: Stock, horse: Horse, name: str, found: Pairing
) -> tuple[Visit, Pairing]:
    """Record the fit as found; then change it, and record the fit as left."""
    client, place = stock.clients["marrowby"], stock.places["lantern_hill"]
    kind = "first_fit" if name == "B1" else "growth"
    hour = 14 if name in {"B2", "B6"} else 9  # those mornings are taken by another visit
    visit = story.visit(case.DAYS[name], kind, client, place, [horse], 60, hour=hour)
    story.history(visit, horse, case.HISTORIES.get(name, {"what_changed": "Nothing to tell."}))
    story.feel(visit, horse, case.SORENESS.get(name, {}))
    coat = "winter" if name in WINTER_COATS else "summer"
    measurement = story.measure(visit, horse, case.BACKS[name], coat=coat)
    if name == max(case.DAYS):
        photograph_front(measurement=measurement, section=case.BACKS[name].s1, examiner=story.lead)
    angle, angle_note, level, level_note = case.FINDINGS[name]
    story.check(
        visit,
        found,
        [
            ("bare", "angle_front", angle, None, None, angle_note),
            ("bare", "level", level, None, None, level_note),
            ("bare", "channel", "good", None, None, ""),
            ("bare", "lateral", "good", None, None, ""),
        ],
    )
    story.evaluate(visit, found, measurement)
    left = _change(story, stock, horse, name, found)
    if is_changed(name):
        story.evaluate(visit, left, measurement)
    story.sign(visit, left, case.VERDICTS[name])
    return story.finish(visit), left


def is_changed(name: str) -> bool:
    before, after = case.HEADS[name]
    return before != after or name in case.SHIMS_MM or name in case.FLOCK_MM


def _change(story: Story, stock: Stock, horse: Horse, name: str, found: Pairing) -> Pairing:
    """Set head, wool and shims as they were left; another head setting begins another pairing."""
    tree = stock.trees["TR-05"]
    before, (degrees, width_cm) = case.HEADS[name]
    added = case.FLOCK_MM.get(name, {})
    depths = {
        f"panel_depth_{place}_mm": getattr(tree, f"panel_depth_{place}_mm") + extra
        for place, extra in added.items()
    }
    if is_changed(name):
        change_tree(
            tree=tree,
            head_angle_deg=degrees,
            head_width_mm=width_cm * CM,
            measured_on=story.calendar.day(case.DAYS[name]),
            **depths,
        )
    if before != case.HEADS[name][1]:
        end_pairing(pairing=found, to_date=story.calendar.day(case.DAYS[name]))
        return _begin(story, stock, horse, name)
    if name in case.SHIMS_MM:
        shim = case.SHIMS_MM[name]
        change_pairing(pairing=found, shim_front_left_mm=shim, shim_front_right_mm=shim)
    return found
