"""The booking form."""

from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from horses.forms.records import DayInput
from horses.models import Horse
from practice.models import Client, Place, Practice, User, Visit
from practice.selectors.visits import fitters, horse_ids_of_client
from practice.services.visits import TYPICAL_MINUTES


def zone_choices() -> list[tuple[str, str]]:
    """Return the zones with a city, and UTC."""
    zones = sorted(z for z in available_timezones() if "/" in z and not z.startswith("Etc/"))
    return [("UTC", "UTC"), *((zone, zone.replace("_", " ")) for zone in zones)]


def local_moment(day: date, clock: time, zone: str) -> datetime:
    """Return the moment a clock in `zone` shows this day and time.

    Raises ValidationError for a time that is skipped when the clocks go forward; of a time that
    comes twice, the first is taken.
    """
    moment = datetime.combine(day, clock, tzinfo=ZoneInfo(zone))
    there_and_back = moment.astimezone(ZoneInfo("UTC")).astimezone(ZoneInfo(zone))
    if there_and_back.replace(tzinfo=None) != moment.replace(tzinfo=None):
        raise ValidationError(f"On this day the clocks skip {clock:%H:%M} in {zone}.")
    return moment


class BookingForm(forms.Form):
    """A visit: who, where, which horses, when on the clock of the place, and how long."""

    kind = forms.ChoiceField(label="Kind of visit", choices=Visit.Kind)
    client = forms.ModelChoiceField(queryset=Client.objects.all(), empty_label="Choose a client")
    place = forms.ModelChoiceField(
        queryset=Place.objects.all(), required=False, empty_label="No place yet"
    )
    horses = forms.ModelMultipleChoiceField(queryset=Horse.objects.none(), required=False)
    day = forms.DateField(label="Date", widget=DayInput())
    clock = forms.TimeField(
        label="Time", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    time_zone = forms.ChoiceField(
        label="Clock of the place", choices=zone_choices, help_text="Times are shown on this clock."
    )
    minutes = forms.IntegerField(
        label="Length",
        required=False,
        min_value=10,
        max_value=600,
        widget=forms.NumberInput(attrs={"data-unit": "min", "inputmode": "numeric", "step": 5}),
        help_text="Empty takes the usual length of this kind.",
    )
    fitter = forms.ModelChoiceField(
        queryset=User.objects.none(), required=False, empty_label="Not decided"
    )
    reason = forms.CharField(label="Why called", required=False, max_length=200)
    notes = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 3}), help_text="For the practice only."
    )

    def __init__(self, *args: Any, visit: Visit | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.visit = visit
        self.fields["horses"].queryset = self._bookable()  # type: ignore[attr-defined]
        self.fields["fitter"].queryset = fitters()  # type: ignore[attr-defined]

    def _bookable(self) -> Any:
        in_care = Horse.objects.exclude(state__in=(Horse.State.SOLD, Horse.State.DIED))
        if self.visit is None:
            return in_care
        return (in_care | Horse.objects.filter(visit_horses__visit=self.visit)).distinct()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("minutes") and "minutes" not in self.errors:
            cleaned["minutes"] = TYPICAL_MINUTES.get(cleaned.get("kind", ""), 60)
        if all(cleaned.get(name) for name in ("day", "time_zone")) and "clock" in cleaned:
            try:
                cleaned["starts_at"] = local_moment(
                    cleaned["day"], cleaned["clock"], cleaned["time_zone"]
                )
            except ValidationError as problem:
                self.add_error("clock", problem)
        if not cleaned.get("horses") and "horses" not in self.errors:
            self.add_error("horses", "Choose at least one horse.")
        return cleaned

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if not 1990 <= day.year <= timezone.localdate().year + 5:
            raise ValidationError("Check the year.")
        return day

    def values(self) -> dict[str, Any]:
        return {k: v for k, v in self.cleaned_data.items() if k not in {"day", "clock"}}

    def proposed(self) -> Visit:
        """Return the visit as it would be stored, to look for clashes before it is."""
        values = self.values()
        values.pop("horses")
        return Visit(pk=self.visit.pk if self.visit else None, **values)

    def refuse(self, problem: ValidationError) -> None:
        """Show what the service would not store."""
        if hasattr(problem, "error_dict"):
            for name, errors in problem.error_dict.items():
                self.add_error(name if name in self.fields else None, errors)
        else:
            self.add_error(None, problem)

    # What the page draws ------------------------------------------------------------------------
    def chosen_client(self) -> Client | None:
        value = self["client"].value()
        return Client.objects.filter(pk=value).first() if str(value or "").isdigit() else None

    def horse_groups(self) -> dict[str, list[tuple[Horse, bool]]]:
        """Return the horses to tick: those of the client first, each with whether it is ticked."""
        chosen = {str(value) for value in self["horses"].value() or []}
        theirs = horse_ids_of_client(self.chosen_client())
        horses = self.fields["horses"].queryset.select_related("place")  # type: ignore[attr-defined]
        rows = [(horse, str(horse.pk) in chosen) for horse in horses]
        return {
            "theirs": [row for row in rows if row[0].pk in theirs or row[1]],
            "others": [row for row in rows if not (row[0].pk in theirs or row[1])],
        }


class CancelForm(forms.Form):
    """Why a visit does not happen."""

    reason = forms.CharField(label="Why", max_length=200)


class VisitFilter(forms.Form):
    """Which visits to list."""

    WHEN = [("coming", "Coming"), ("past", "Past"), ("all", "All")]
    when = forms.ChoiceField(choices=WHEN, required=False)
    state = forms.ChoiceField(choices=[("", "Any state"), *Visit.State.choices], required=False)
    q = forms.CharField(label="Client, place or horse", required=False, max_length=80)

    def chosen(self) -> dict[str, Any]:
        self.is_valid()
        return {
            "when": self.cleaned_data.get("when") or "coming",
            "state": self.cleaned_data.get("state", ""),
            "words": self.cleaned_data.get("q", ""),
        }


def booking_start(practice: Practice, fitter: User) -> dict[str, Any]:
    """Return what a new booking starts with."""
    zone = practice.time_zone
    return {
        "kind": Visit.Kind.RECHECK,
        "day": timezone.localdate(),
        "clock": time(9, 0),
        "time_zone": zone,
        "fitter": fitter.pk if fitter.may_write else None,
    }


def booking_of(visit: Visit) -> dict[str, Any]:
    """Return a booked visit as the form shows it."""
    local = visit.starts_local
    same = ("kind", "time_zone", "minutes", "reason", "notes")
    return {name: getattr(visit, name) for name in same} | {
        "client": visit.client_id,
        "place": visit.place_id,
        "fitter": visit.fitter_id,
        "day": local.date(),
        "clock": local.time(),
        "horses": list(visit.visit_horses.values_list("horse_id", flat=True)),
    }
