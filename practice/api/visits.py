"""/api/v1/visits/: booking and moving visits."""

from typing import Any
from zoneinfo import available_timezones

import django_filters
from rest_framework import serializers

from horses.api.records import RecordSerializer, RecordViewSet
from horses.models import Horse
from practice.models import Visit
from practice.services.visits import TYPICAL_MINUTES, book_visit, change_visit


class VisitSerializer(RecordSerializer):
    horses = serializers.PrimaryKeyRelatedField(
        many=True, queryset=Horse.objects.all(), allow_empty=False
    )

    class Meta:
        model = Visit
        fields = (
            "id",
            "kind",
            "state",
            "client",
            "place",
            "fitter",
            "starts_at",
            "time_zone",
            "minutes",
            "reason",
            "notes",
            "horses",
            "created_at",
            "changed_at",
        )
        read_only_fields = ("state",)
        extra_kwargs = {
            "kind": {"required": True},
            "minutes": {"help_text": "Left out: what is typical for the kind."},
        }

    def validate_time_zone(self, name: str) -> str:
        if name not in available_timezones():
            raise serializers.ValidationError("Not a time zone. Write one like Europe/London.")
        return name


class VisitFilter(django_filters.FilterSet):
    starts_from = django_filters.IsoDateTimeFilter("starts_at", "gte", label="At or after")
    starts_before = django_filters.IsoDateTimeFilter("starts_at", "lt", label="Before")
    horse = django_filters.ModelChoiceFilter(
        "visit_horses__horse", queryset=Horse.objects.all(), label="Horse on the visit"
    )

    class Meta:
        model = Visit
        fields = ("state", "kind", "client", "place", "fitter")


class VisitViewSet(RecordViewSet):
    """Visits: one appointment at one place for one or more horses."""

    queryset = Visit.objects.prefetch_related("horses")
    serializer_class = VisitSerializer
    filterset_class = VisitFilter
    ordering_fields = ("starts_at", "changed_at", "id")
    noun = "visit"
    add = staticmethod(book_visit)
    change = staticmethod(change_visit)

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        values = serializer.validated_data
        usual = {
            "place": None,
            "fitter": self.member,
            "minutes": TYPICAL_MINUTES[values["kind"]],
        }
        serializer.instance = book_visit(**{**usual, **values})
