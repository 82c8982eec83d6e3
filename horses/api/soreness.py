"""/api/v1/soreness-checks/: what the hand felt, site by site."""

from typing import Any

import django_filters
from rest_framework import serializers

from horses.api.records import RecordSerializer, RecordViewSet
from horses.models import SiteScore, SorenessCheck
from horses.services.soreness import record_soreness_check


class SiteScoreSerializer(RecordSerializer):
    score = serializers.IntegerField(
        min_value=0, max_value=4, allow_null=True, help_text="0-4; null says 'not tested'."
    )

    class Meta:
        model = SiteScore
        fields = (
            "site",
            "side",
            "score",
            "tone",
            "is_warm",
            "swelling_mm",
            "is_repeatable",
            "is_ticklish",
            "note",
        )


class SorenessCheckSerializer(RecordSerializer):
    scores = SiteScoreSerializer(many=True)

    class Meta:
        model = SorenessCheck
        fields = (
            "id",
            "horse",
            "visit",
            "ride",
            "moment",
            "checked_at",
            "examiner",
            "painkillers",
            "notes",
            "scores",
            "created_at",
            "changed_at",
        )
        read_only_fields = ("examiner",)
        validators: list[Any] = []  # posting again for a visit corrects that visit's check

    def validate_scores(self, scores: list[dict[str, Any]]) -> list[dict[str, Any]]:
        places = [(score["site"], score["side"]) for score in scores]
        if len(set(places)) < len(places):
            raise serializers.ValidationError("A site has one score for each side.")
        return scores


class SorenessFilter(django_filters.FilterSet):
    checked_from = django_filters.IsoDateTimeFilter("checked_at", "gte", label="At or after")
    checked_before = django_filters.IsoDateTimeFilter("checked_at", "lt", label="Before")

    class Meta:
        model = SorenessCheck
        fields = ("horse", "visit", "ride", "moment")


class SorenessCheckViewSet(RecordViewSet):
    """Soreness checks. Post again for the same horse and visit to correct one."""

    http_method_names = ["get", "post", "head", "options"]
    queryset = SorenessCheck.objects.prefetch_related("scores")
    serializer_class = SorenessCheckSerializer
    filterset_class = SorenessFilter
    ordering_fields = ("checked_at", "changed_at", "id")

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        values = dict(serializer.validated_data)
        scores = {
            (score.pop("site"), score.pop("side")): score for score in map(dict, values["scores"])
        }
        check = record_soreness_check(**{**values, "scores": scores}, examiner=self.member)
        serializer.instance = self.get_queryset().get(pk=check.pk)
