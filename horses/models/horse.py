"""The horse."""

from datetime import date

from django.core.validators import RegexValidator
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import TypedRecord, range_check


class Horse(TypedRecord):
    """A horse in the practice's care; history stays with the horse when owners change."""

    class Sex(models.TextChoices):
        MARE = "mare", "Mare"
        GELDING = "gelding", "Gelding"
        STALLION = "stallion", "Stallion"
        FILLY = "filly", "Filly"
        COLT = "colt", "Colt"

    class BirthPrecision(models.TextChoices):
        DAY = "day", "Exact day"
        MONTH = "month", "Month"
        YEAR = "year", "Year"
        ESTIMATE = "estimate", "Estimate"

    class State(models.TextChoices):
        """Only `active` horses get reminders and count as due."""

        ACTIVE = "active", "In work or in care"
        RESTING = "resting", "Resting"
        LAME = "lame", "Lame, with the vet"
        SOLD = "sold", "Sold on"
        DIED = "died", "Died"

    barn_name = models.CharField(max_length=80)
    registered_name = models.CharField(max_length=120, blank=True)
    sex = models.CharField(max_length=8, choices=Sex, blank=True)
    birth_date = models.DateField(null=True, blank=True)
    birth_precision = models.CharField(max_length=8, choices=BirthPrecision, blank=True)
    breed = models.CharField("breed or type", max_length=80, blank=True)
    colour = models.CharField(max_length=40, blank=True)
    markings = models.CharField(max_length=200, blank=True)
    microchip = models.CharField(max_length=20, blank=True)
    life_number = models.CharField(
        max_length=15,
        blank=True,
        validators=[RegexValidator(r"^[0-9A-Za-z]{15}$", "A life number has 15 characters.")],
    )
    height_mm = models.FloatField("height at the withers", null=True, blank=True)
    use = models.CharField("what the horse is used for", max_length=120, blank=True)
    temperament = models.CharField("handling note", max_length=200, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.ACTIVE)
    place = models.ForeignKey(
        "practice.Place", models.SET_NULL, null=True, blank=True, related_name="horses"
    )
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("barn_name", "pk")
        constraints = (range_check("horse", "height_mm", 610, 2134),)

    def __str__(self) -> str:
        return self.barn_name

    @property
    def is_in_care(self) -> bool:
        return self.state not in {self.State.SOLD, self.State.DIED}

    def age_years_on(self, day: date) -> float | None:
        """Return the age on `day` in years, or None when no birth date is known."""
        return None if self.birth_date is None else (day - self.birth_date).days / 365.25
