"""Loads the whole invented practice into an empty database."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from horses.models import Horse, SorenessCheck
from horses.services.soreness import record_soreness_check
from practice.demo import case_a, case_b, case_c, people, tell_a, tell_b, tell_c
from practice.demo.calendar import ZONE, Calendar
from practice.demo.scans import take_scans
from practice.demo.stocking import Stock, stock_practice
from practice.demo.telling import QUICK_SITES, Story, scores_at
from practice.models import ShareLink, User, Visit
from practice.report.content import build_content, default_recipient
from practice.selectors.reports import records_for_report, visit_horse_or_404
from practice.services.shares import share_report
from practice.services.visits import book_visit

Progress = Callable[[int, int], None]


def planned_evaluations() -> int:
    """Return how many fits are computed: each as found, and again where it was changed."""
    changed = sum(tell_b.is_changed(name) for name in case_b.DAYS)
    string = sum(len(years) for saddles in case_c.MATRIX.values() for years in saddles.values())
    return len(case_a.DAYS) + len(case_b.DAYS) + changed + string


@dataclass(frozen=True)
class Loaded:
    """What to tell the person who asked for the demo."""

    visits: dict[str, Visit]
    share: ShareLink


@transaction.atomic
def load_practice(*, today: date, on_evaluation: Progress) -> Loaded:
    """Write the whole story through the services, or nothing of it."""
    total = planned_evaluations()
    calendar = Calendar(today)
    stock = stock_practice(calendar)
    story = Story(
        calendar=calendar,
        lead=stock.members[people.LEAD],
        helper=stock.members["perrin"],
        on_evaluation=lambda done: on_evaluation(done, total),
    )
    visits = tell_a.tell(story, stock) | tell_b.tell(story, stock) | tell_c.tell(story, stock)
    take_scans(story.lead)
    _last_days(story)
    _book_ahead(story, stock)
    return Loaded(visits, _share_report(visits["A8"], story.lead))


def _share_report(visit: Visit, lead: User) -> ShareLink:
    horse = visit.horses.get()
    records = records_for_report(visit_horse_or_404(visit.pk, horse.pk))
    content = build_content(records, recipient=default_recipient(records)).to_dict()
    return share_report(visit_horse=records.visit_horse, content=content, created_by=lead)


# Days from today, hour, minutes, kind, client, place, horses, reason.
AHEAD: list[tuple[int, int, int, str, str, str, tuple[str, ...], str]] = [
    (0, 9, 120, "trial", "kettlebar", "kettlebar", ("Needle",),
     "A narrower saddle to try: about 76 degrees, high gullet"),
    (0, 14, 60, "adjust", "marrowby", "lantern_hill", ("Pennywhistle Fern",),
     "Feel the wool after the head was opened"),
    (2, 10, 15, "recovery", "nettleworth", "tinbrook", ("Corporal Thistle",),
     "Back after the long day"),
    (2, 13, 60, "recheck", "kettlebar", "kettlebar", ("Bramble Ox",),
     "Loin sore on the last round"),
    (16, 9, 60, "growth", "marrowby", "lantern_hill", ("Pennywhistle Fern",), "Growth check"),
    (23, 9, 60, "recheck", "nettleworth", "tinbrook", ("Corporal Thistle",), "Winter pad"),
]  # fmt: skip


def _last_days(story: Story) -> None:
    """After the last visit a helper on a round finds one loin sore: the reason for a booking."""
    horse = Horse.objects.get(barn_name="Bramble Ox")
    record_soreness_check(
        horse=horse,
        checked_at=story.calendar.soon(-3, 18),
        examiner=story.helper,
        moment=SorenessCheck.Moment.ROUND,
        scores=scores_at(QUICK_SITES, {"LO": (2, 1)}),
        notes="Long days this week. Rest until he has been looked at.",
    )


def _book_ahead(story: Story, stock: Stock) -> None:
    horses = {horse.barn_name: horse for horse in Horse.objects.all()}
    for days, hour, minutes, kind, client, place, names, reason in AHEAD:
        book_visit(
            kind=kind,
            client=stock.clients[client],
            place=stock.places[place],
            fitter=story.lead,
            starts_at=story.calendar.soon(days, hour),
            time_zone=ZONE,
            minutes=minutes,
            horses=[horses[name] for name in names],
            reason=reason,
        )
