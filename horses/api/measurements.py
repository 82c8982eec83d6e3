"""/api/v1/measurements/: the back on one day, with its sections and lengthwise profiles."""

from typing import Any

import django_filters
from django.db import transaction
from rest_framework import serializers

from horses.api.records import PointsField, RecordSerializer, RecordViewSet
from horses.models import BackMeasurement, LineProfile, SectionProfile
from horses.services.measurements import (
    record_back_measurement,
    record_line,
    record_section,
)

CONDITIONS = (
    "method",
    "stood_square",
    "rested_hind_foot",
    "restless",
    "head",
    "ground",
    "coat",
    "work",
    "temperature_c",
)
BODY = (
    "girth_mm",
    "length_mm",
    "height_mm",
    "croup_over_withers_mm",
    "scale_mass_kg",
    "condition_score",
    "muscle_score",
    "hollow_left_mm",
    "hollow_right_mm",
    "girth_groove_mm",
    "support_length_mm",
    "notes",
)


class SectionSerializer(RecordSerializer):
    points = PointsField(help_text="[depth_mm, half_width_mm] from the midline down.")
    trace = serializers.ChoiceField([1, 2], default=1)

    class Meta:
        model = SectionProfile
        fields = ("station", "side", "trace", "behind_blade_mm", "points")
        extra_kwargs = {"behind_blade_mm": {"required": False}}


class LineSerializer(RecordSerializer):
    points = PointsField(help_text="[distance_behind_blade_mm, height_mm], front to rear.")
    trace = serializers.ChoiceField([1, 2], default=1)

    class Meta:
        model = LineProfile
        fields = ("line", "trace", "off_midline_mm", "points")


class MeasurementSerializer(RecordSerializer):
    sections = SectionSerializer(many=True, required=False)
    lines = LineSerializer(many=True, required=False)

    class Meta:
        model = BackMeasurement
        fields = (
            "id",
            "horse",
            "visit",
            "measured_on",
            "examiner",
            *CONDITIONS,
            *BODY,
            "sections",
            "lines",
            "created_at",
            "changed_at",
        )
        read_only_fields = ("examiner",)
        validators: list[Any] = []  # posting again for a visit corrects that visit's measuring


class MeasurementFilter(django_filters.FilterSet):
    measured_from = django_filters.DateFilter("measured_on", "gte", label="On or after")
    measured_to = django_filters.DateFilter("measured_on", "lte", label="On or before")

    class Meta:
        model = BackMeasurement
        fields = ("horse", "visit", "method", "work")


@transaction.atomic
def record_measurement(
    *,
    sections: list[dict[str, Any]],
    lines: list[dict[str, Any]],
    about: dict[str, Any],
    values: dict[str, Any],
) -> BackMeasurement:
    """Record a measuring with all its profiles, or nothing of it."""
    measurement = record_back_measurement(**about, values=values, typed=None)
    for section in sections:
        record_section(measurement=measurement, **section)
    for line in lines:
        record_line(measurement=measurement, **line)
    return BackMeasurement.objects.prefetch_related("sections", "lines").get(pk=measurement.pk)


class MeasurementViewSet(RecordViewSet):
    """Measurings of backs. Post again for the same horse and visit to correct one."""

    http_method_names = ["get", "post", "head", "options"]
    queryset = BackMeasurement.objects.prefetch_related("sections", "lines")
    serializer_class = MeasurementSerializer
    filterset_class = MeasurementFilter
    ordering_fields = ("measured_on", "changed_at", "id")

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        values = dict(serializer.validated_data)
        about = {name: values.pop(name, None) for name in ("horse", "visit", "measured_on")}
        about["examiner"] = self.member
        serializer.instance = record_measurement(
            sections=values.pop("sections", []),
            lines=values.pop("lines", []),
            about=about,
            values=values,
        )
