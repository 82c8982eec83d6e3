"""/api/v1/evaluations/: computed fits. A new one is asked for and computed in the background."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import serializers

from fitting.models import FitEvaluation, Saddle
from fitting.selectors.evaluations import HEAVY
from fitting.services.evaluations import request_evaluation
from horses.api.records import RecordSerializer, RecordViewSet, lead_asks_for
from horses.models import Horse
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

# With the weights of saddle, gear and horse, each of these gives the rider's; the last also needs
# the rope's pull, which is a share of the horse's weight.
PRIVATE_CODES = frozenset({"load", "load_ratio", "friction_demand"})


def without_load(value: Any) -> Any:
    """Return a stored result without the measures and findings of how much is carried."""
    if isinstance(value, list):
        return [without_load(item) for item in value if _code_of(item) not in PRIVATE_CODES]
    if isinstance(value, dict):
        return {name: without_load(item) for name, item in value.items()}
    return value


def _code_of(item: Any) -> Any:
    """Return the code of a stored finding or measure; a row of measures begins with it."""
    if isinstance(item, dict):
        return item.get("code")
    return item[0] if isinstance(item, list) and item and isinstance(item[0], str) else None


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

    def to_representation(self, instance: FitEvaluation) -> dict[str, Any]:
        shown = super().to_representation(instance)
        if lead_asks_for(self.context["request"], "load"):
            return shown
        shown["measures"] = {
            key: value
            for key, value in shown["measures"].items()
            if not PRIVATE_CODES.intersection(key.split("."))
        }
        if "result" in shown:
            shown["result"] = without_load(shown["result"])
        return shown

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
    horse = django_filters.ModelChoiceFilter("pairing__horse", queryset=Horse.objects.all())
    saddle = django_filters.ModelChoiceFilter("pairing__saddle", queryset=Saddle.objects.all())
    evaluated_from = django_filters.DateFilter("evaluated_on", "gte", label="On or after")
    evaluated_to = django_filters.DateFilter("evaluated_on", "lte", label="On or before")

    class Meta:
        model = FitEvaluation
        fields = ("pairing", "visit", "measurement", "state", "engine_version")


INCLUDE = OpenApiParameter(
    "include",
    enum=["load"],
    description="The lead fitter may ask for the load carried; it is left out otherwise.",
)
READ = extend_schema(parameters=[INCLUDE])


@extend_schema_view(list=READ, retrieve=READ)
class EvaluationViewSet(RecordViewSet):
    """Fit evaluations, frozen with the engine version that gave them.

    Post a pairing and a measuring to have one computed; read it again until `state` is `done`.
    The frozen inputs are never sent: they hold the rider's weight. The load carried, and its share
    of the horse's weight, are only there for the lead fitter who asks with `?include=load`.
    """

    http_method_names = ["get", "post", "head", "options"]
    queryset = FitEvaluation.objects.all()
    filterset_class = EvaluationFilter
    ordering_fields = ("evaluated_on", "state", "changed_at", "id")

    def get_queryset(self) -> QuerySet[FitEvaluation]:
        heavy = ("inputs", "sensitivity") if self.action == "retrieve" else HEAVY
        return super().get_queryset().defer(*heavy)

    def get_serializer_class(self) -> type[EvaluationSerializer]:
        return EvaluationDetailSerializer if self.action == "retrieve" else EvaluationSerializer

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        requested = request_evaluation(**serializer.validated_data, created_by=self.member)
        serializer.instance = requested.evaluation
        send_job(requested.job)
