"""What every stored record shares."""

from django.db import models


class Record(models.Model):
    """A row that knows when it was written and last changed."""

    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True


class TypedRecord(Record):
    """A row with measured values: canonical units in the fields, the words as typed in `typed`.

    `typed` maps a field name to the text the person entered ("15.2", "6 1/2 in"), so that a page
    can show it back unchanged. It is never read for computing.
    """

    typed = models.JSONField(default=dict, blank=True)

    class Meta(Record.Meta):
        abstract = True


class Side(models.TextChoices):
    """Always from the horse's own point of view: near side is left, off side is right."""

    LEFT = "L", "Left (near side)"
    RIGHT = "R", "Right (off side)"
    MIDLINE = "M", "Midline"


def within(field: str, low: float, high: float) -> models.Q:
    """Return the condition that `field` is empty or between `low` and `high`."""
    return models.Q(**{f"{field}__isnull": True}) | models.Q(
        **{f"{field}__gte": low, f"{field}__lte": high}
    )


def range_check(model: str, field: str, low: float, high: float) -> models.CheckConstraint:
    """Return the database's own guard for a hard range that a form checks with words."""
    return models.CheckConstraint(condition=within(field, low, high), name=f"{model}_{field}_range")
