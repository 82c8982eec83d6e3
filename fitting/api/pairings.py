"""/api/v1/pairings/: this horse under this saddle, pad and rider, from one date to another."""

from typing import Any

import django_filters
from rest_framework import serializers

from fitting.models import Pairing
from fitting.services.pairings import change_pairing, start_pairing
from horses.api.records import RecordSerializer, RecordViewSet


class PairingSerializer(RecordSerializer):
    class Meta:
        model = Pairing
        fields = (
            "id",
            "horse",
            "saddle",
            "pad",
            "rider",
            "use",
            "hours_per_day",
            "ropes",
            "mounts_from_ground",
            "gear_mass_kg",
            "tip_behind_blade_mm",
            "shim_front_left_mm",
            "shim_front_right_mm",
            "shim_rear_left_mm",
            "shim_rear_right_mm",
            "shims_until",
            "from_date",
            "to_date",
            "notes",
            "created_at",
            "changed_at",
        )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if self.instance is not None and {"horse", "saddle"} & attrs.keys():
            raise serializers.ValidationError(
                "A pairing keeps its horse and saddle. End it and start another one."
            )
        return attrs


class PairingFilter(django_filters.FilterSet):
    current = django_filters.BooleanFilter("to_date", "isnull", label="Still in use")
    used_from = django_filters.DateFilter("from_date", "gte", label="Begun on or after")
    used_to = django_filters.DateFilter("from_date", "lte", label="Begun on or before")

    class Meta:
        model = Pairing
        fields = ("horse", "saddle", "pad", "rider")


class PairingViewSet(RecordViewSet):
    """Pairings: the unit every check, evaluation and verdict belongs to."""

    queryset = Pairing.objects.all()
    serializer_class = PairingSerializer
    filterset_class = PairingFilter
    ordering_fields = ("from_date", "to_date", "changed_at", "id")
    noun = "pairing"
    add = staticmethod(start_pairing)
    change = staticmethod(change_pairing)
