"""The practice itself and the people around the horses."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import Record, TypedRecord, range_check


class User(AbstractUser):
    """Someone who signs in. Without a role an account sees nothing."""

    class Role(models.TextChoices):
        LEAD = "lead", "Lead fitter"
        HELPER = "helper", "Helper"
        READ_ONLY = "read_only", "Read only"

    role = models.CharField(max_length=9, choices=Role, blank=True)
    phone = models.CharField(max_length=40, blank=True)

    class Meta(AbstractUser.Meta):
        ordering = ("username",)

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def may_read(self) -> bool:
        return self.is_active and bool(self.role)

    @property
    def may_write(self) -> bool:
        return self.is_active and self.role in {self.Role.LEAD, self.Role.HELPER}

    @property
    def is_lead(self) -> bool:
        return self.is_active and self.role == self.Role.LEAD


class Practice(Record):
    """The one practice this install belongs to."""

    class Units(models.TextChoices):
        IMPERIAL = "imperial", "Inches, pounds, hands"
        METRIC = "metric", "Centimetres, kilograms"

    name = models.CharField(max_length=120, default="My practice")
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    units = models.CharField(max_length=8, choices=Units, default=Units.IMPERIAL)
    time_zone = models.CharField(max_length=60, default="UTC")
    currency = models.CharField(max_length=8, default="cr")
    is_demo = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name


class Client(Record):
    """Whoever calls and pays. Not always the owner."""

    name = models.CharField(max_length=120)
    contact_name = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    units = models.CharField(max_length=8, choices=Practice.Units, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class Place(Record):
    """A barn, yard or ranch. Never shown in what an owner is sent."""

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    gate_note = models.CharField(max_length=200, blank=True)
    has_level_ground = models.BooleanField("level place to stand", null=True, blank=True)
    is_covered = models.BooleanField("under a roof", null=True, blank=True)
    has_signal = models.BooleanField("phone signal", null=True, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class Rider(TypedRecord):
    """Someone who rides. The weight is private: hidden unless asked for, absent from reports."""

    name = models.CharField(max_length=120)
    client = models.ForeignKey(
        Client, models.SET_NULL, null=True, blank=True, related_name="riders"
    )
    mass_kg = models.FloatField("weight in riding clothes", null=True, blank=True)
    height_mm = models.FloatField("height", null=True, blank=True)
    is_minor = models.BooleanField("under age", default=False)
    guardian = models.CharField(max_length=120, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name", "pk")
        constraints = (
            range_check("rider", "mass_kg", 13.6, 181.5),
            range_check("rider", "height_mm", 762, 2286),
            models.CheckConstraint(
                condition=models.Q(is_minor=False) | ~models.Q(guardian=""),
                name="a_minor_has_a_guardian",
            ),
        )

    def __str__(self) -> str:
        return self.name


class HorseRole(Record):
    """Who is what to a horse, with dates: owner, rider, vet and so on."""

    class Role(models.TextChoices):
        OWNER = "owner", "Owner"
        CO_OWNER = "co_owner", "Co-owner"
        LESSEE = "lessee", "Lessee"
        TRAINER = "trainer", "Trainer"
        MANAGER = "manager", "Barn manager"
        GROOM = "groom", "Groom"
        VET = "vet", "Veterinarian"
        FARRIER = "farrier", "Farrier"
        BODYWORKER = "bodyworker", "Bodyworker"

    horse = models.ForeignKey("horses.Horse", models.CASCADE, related_name="roles")
    client = models.ForeignKey(Client, models.CASCADE, related_name="horse_roles")
    role = models.CharField(max_length=10, choices=Role, default=Role.OWNER)
    from_date = models.DateField(null=True, blank=True)
    to_date = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("role", "-from_date", "pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(to_date__isnull=True)
                | models.Q(from_date__isnull=True)
                | models.Q(to_date__gte=models.F("from_date")),
                name="role_ends_after_it_starts",
            ),
        )

    def __str__(self) -> str:
        return f"{self.client}, {self.get_role_display().lower()} of {self.horse}"


class Consent(Record):
    """A separate yes or no to one use of someone's data."""

    class Subject(models.TextChoices):
        RECORDS = "records", "Keep records"
        PHOTOS = "photos", "Take photos and scans"
        SHARE_VET = "share_vet", "Share with the vet"
        SHARE_OTHERS = "share_others", "Share with farrier or trainer"
        TEACHING = "teaching", "Use photos for teaching"
        REMINDERS = "reminders", "Send reminders"

    client = models.ForeignKey(Client, models.CASCADE, related_name="consents")
    subject = models.CharField(max_length=12, choices=Subject)
    is_given = models.BooleanField()
    given_on = models.DateField()
    how = models.CharField(max_length=120, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("subject", "-given_on")

    def __str__(self) -> str:
        return f"{self.get_subject_display()}: {'yes' if self.is_given else 'no'}"
