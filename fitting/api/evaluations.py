"""/api/v1/evaluations/: computed fits. A new one is asked for and computed in the background."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from rest_framework import serializers

from fitting.models import FitEvaluation
from fitting.services.evaluations import request_evaluation
from horses.api.records import RecordSerializer, RecordViewSet
from horses.tasks import send_job

SUMMARY = (
    "id",
    "pairing",
    "visit",
    "measurement",
    "evaluated_on",
    "state",
    "failure",
    "engine_version",
    "measures",
    "created_at",
    "changed_at",
)


class EvaluationSerializer(RecordSerializer):
    measures = serializers.DictField(
        child=serializers.FloatField(allow_null=True),
        read_only=True,
        help_text="Flat measures in SI units: <load case>.<measure>[.<zone>][.<side>].",
    )

    class Meta:
        model = FitEvaluation
        fields = SUMMARY
        read_only_fields = ("state", "failure", "engine_version")
        extra_kwargs = {
            "measurement": {"required": True, "allow_null": False},
            "evaluated_on": {"required": False},
        }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["measurement"].horse_id != attrs["pairing"].horse_id:
            raise serializers.ValidationError(
                {"measurement": "This measuring is of another horse than the pairing's."}
            )
        return attrs


class EvaluationDetailSerializer(EvaluationSerializer):
    result = serializers.DictField(
        read_only=True, help_text="The engine's whole result, as it was stored."
    )

    class Meta(EvaluationSerializer.Meta):
        fields = (*SUMMARY, "result")  # type: ignore[assignment]


class EvaluationFilter(django_filters.FilterSet):
    horse = django_filters.NumberFilter("pairing__horse_id", label="Horse")
    saddle = django_filters.NumberFilter("pairing__saddle_id", label="Saddle")
    evaluated_from = django_filters.DateFilter("evaluated_on", "gte", label="On or after")
    evaluated_to = django_filters.DateFilter("evaluated_on", "lte", label="On or before")

    class Meta:
        model = FitEvaluation
        fields = ("pairing", "visit", "measurement", "state", "engine_version")


class EvaluationViewSet(RecordViewSet):
    """Fit evaluations, frozen with the engine version that gave them.

    Post a pairing and a measuring to have one computed; read it again until `state` is `done`.
    The frozen inputs are not sent: they hold the rider's weight.
    """

    http_method_names = ["get", "post", "head", "options"]
    queryset = FitEvaluation.objects.all()
    filterset_class = EvaluationFilter
    ordering_fields = ("evaluated_on", "state", "changed_at", "id")

    def get_queryset(self) -> QuerySet[FitEvaluation]:
        heavy = ("inputs",) if self.action == "retrieve" else ("inputs", "result")
        return super().get_queryset().defer(*heavy)

    def get_serializer_class(self) -> type[EvaluationSerializer]:
        return EvaluationDetailSerializer if self.action == "retrieve" else EvaluationSerializer

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        requested = request_evaluation(**serializer.validated_data, created_by=self.member)
        serializer.instance = requested.evaluation
        send_job(requested.job)
