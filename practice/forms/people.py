"""Forms for clients, places, riders, consents, roles, members and the practice."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from horses import units
from horses.forms.fields import LengthField, MassField
from horses.forms.horses import HorseForm
from horses.forms.records import DayInput, RecordForm
from practice.forms.booking import zone_choices
from practice.models import Client, Consent, HorseRole, Place, Practice, Rider, User

PERHAPS_POUNDS_KG = 125.0  # few riders weigh more; a bare 180 is more often pounds


class ClientForm(RecordForm):
    model = Client
    plain = ("name", "contact_name", "phone", "email", "address", "units", "notes")


class PlaceForm(RecordForm):
    model = Place
    plain = (
        "name",
        "address",
        "gate_note",
        "has_level_ground",
        "is_covered",
        "has_signal",
        "notes",
    )


class RiderForm(RecordForm):
    """A rider. A kept weight is not shown; an empty field leaves it as it is."""

    model = Rider
    plain = ("name", "is_minor", "guardian", "notes")
    by_practice: ClassVar[dict[str, tuple[str, str]]] = {
        "mass_kg": ("lb", "kg"),
        "height_mm": ("in", "cm"),
    }
    mass_kg = MassField(
        label="Weight in riding clothes",
        hard=(13.6, 181.5),
        usual=(45.3, 109),
        help_text="Private. 172 lb, 78 kg or 12 st 4 lb.",
    )
    height_mm = LengthField(
        label="Height",
        hard=(762, 2286),
        usual=(1473, 1931),
        help_text="5 ft 8 in, 68 in or 173 cm.",
    )
    forget_mass = forms.BooleanField(label="Delete the kept weight", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.pop("mass_kg", None)
        if not self.keeps_mass:
            del self.fields["forget_mass"]

    @property
    def keeps_mass(self) -> bool:
        return isinstance(self.record, Rider) and self.record.mass_kg is not None

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        mass = cleaned.get("mass_kg")
        if mass is not None and mass > PERHAPS_POUNDS_KG:
            pounds = units.show_mass(mass, imperial=True)
            questions["mass_kg"] = f"{mass:.0f} kg is {pounds}. Were these pounds? Is this right?"
        return questions

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("is_minor") and not cleaned.get("guardian"):
            self.add_error("guardian", "A rider under age needs a guardian we can call.")
        return cleaned

    def values(self) -> dict[str, Any]:
        values = super().values()
        if self.keeps_mass and values["mass_kg"] is None and not self.cleaned_data["forget_mass"]:
            assert isinstance(self.record, Rider)
            values["mass_kg"] = self.record.mass_kg
            text = self.record.typed.get("mass_kg")
            values["typed"] |= {"mass_kg": text} if text else {}
        return values


class RoleForm(RecordForm):
    """Who is what to a horse, from when to when."""

    model = HorseRole
    plain = ("horse", "client", "role", "from_date", "to_date")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        begin, end = cleaned.get("from_date"), cleaned.get("to_date")
        if begin and end and end < begin:
            self.add_error("to_date", "This is before it began.")
        return cleaned


class ConsentForm(forms.Form):
    """One answer, with its day and how it was given."""

    subject = forms.ChoiceField(label="To what", choices=Consent.Subject)
    is_given = forms.TypedChoiceField(
        label="Answer",
        choices=[("yes", "Yes"), ("no", "No")],
        coerce=lambda word: word == "yes",
    )
    given_on = forms.DateField(label="On", widget=DayInput(), initial=timezone.localdate)
    how = forms.CharField(
        label="How", max_length=120, required=False, help_text="Said, signed, by message …"
    )

    def clean_given_on(self) -> Any:
        day = self.cleaned_data["given_on"]
        if day > timezone.localdate():
            raise ValidationError("This day has not come yet.")
        return day


class NewHorseForm(HorseForm):
    """A new horse with its owner: one of the clients, or a name that becomes a client."""

    owner = forms.ModelChoiceField(
        queryset=Client.objects.all(), required=False, empty_label="Choose, or name a new one"
    )
    new_owner = forms.CharField(label="or a new owner’s name", required=False, max_length=120)
    owned_since = forms.DateField(label="Owner since", required=False, widget=DayInput())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("owner") and cleaned.get("new_owner"):
            self.add_error(
                "new_owner", "Choose an owner from the list or name a new one, not both."
            )
        return cleaned

    def values(self) -> dict[str, Any]:
        names = ("owner", "new_owner", "owned_since")
        return super().values() | {name: self.cleaned_data[name] for name in names}


class MemberForm(RecordForm):
    """An account of the practice."""

    model = User
    plain = ("username", "first_name", "last_name", "email", "phone", "role", "is_active")
    needed = ("role",)
    password = forms.CharField(
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 8 characters, not a common one.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.pop("password", None)
        self.fields["username"].help_text = "What this person signs in with."
        self.fields["is_active"].label = "May sign in"
        self.fields["is_active"].help_text = ""
        if self.record is None:
            self.fields["password"].required = True
            self.initial["is_active"] = True
        else:
            self.fields["password"].label = "New password"
            self.fields["password"].help_text = "Empty leaves the old one."


class PracticeForm(RecordForm):
    model = Practice
    plain = ("name", "address", "phone", "email", "units", "currency")
    time_zone = forms.ChoiceField(
        label="Clock of the practice",
        choices=zone_choices,
        help_text="New visits start with this clock; each visit may have another.",
    )
