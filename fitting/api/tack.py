"""/api/v1/trees/, /saddles/ and /pads/: what goes on the back."""

import django_filters
from rest_framework import serializers

from fitting.models import Pad, Saddle, TreeSpec
from fitting.services.tack import (
    add_pad,
    add_saddle,
    add_tree,
    change_pad,
    change_saddle,
    change_tree,
)
from horses.api.records import RecordSerializer, RecordViewSet

TWO_BAR = (
    "bar_length_mm",
    "bearing_length_mm",
    "bar_width_front_mm",
    "bar_width_centre_mm",
    "bar_width_rear_mm",
    "spread_front_mm",
    "spread_hand_hole_mm",
    "spread_rear_mm",
    "gullet_width_mm",
    "gullet_height_mm",
    "slope_front_left_deg",
    "slope_front_right_deg",
    "slope_rear_left_deg",
    "slope_rear_right_deg",
    "rock_mm",
    "rock_lowest_mm",
    "flare_front_mm",
    "flare_rear_mm",
    "crown_mm",
    "relief",
    "horn_behind_tip_mm",
    "horn_height_mm",
)
PANELS = (
    "head_width_mm",
    "head_angle_deg",
    "panel_length_mm",
    "panel_width_front_mm",
    "panel_width_middle_mm",
    "panel_width_rear_mm",
    "panel_depth_front_mm",
    "panel_depth_middle_mm",
    "panel_depth_rear_mm",
    "channel_front_mm",
    "channel_middle_mm",
    "channel_rear_mm",
    "gusset_rear_mm",
    "panel_rock_mm",
    "rear_angle_deg",
)
FLEXIBLE = (
    "flex_span_mm",
    "flex_load_kg",
    "flex_left_mm",
    "flex_right_mm",
    "set_left_mm",
    "set_right_mm",
)
FRAMELESS = (
    "body_length_mm",
    "body_width_mm",
    "body_thickness_mm",
    "body_channel_mm",
)
STAMPS = ("created_at", "changed_at")


class TreeSerializer(RecordSerializer):
    methods = serializers.DictField(
        child=serializers.CharField(max_length=200, allow_blank=True),
        required=False,
        help_text="How each value was measured: field name to words.",
    )

    class Meta:
        model = TreeSpec
        fields = (
            "id", "tag", "kind", "state", "measured_on", *TWO_BAR, *PANELS, *FLEXIBLE,
            *FRAMELESS, "methods", "notes", *STAMPS,
        )  # fmt: skip


class TreeFilter(django_filters.FilterSet):
    measured_from = django_filters.DateFilter("measured_on", "gte", label="On or after")
    measured_to = django_filters.DateFilter("measured_on", "lte", label="On or before")

    class Meta:
        model = TreeSpec
        fields = ("tag", "kind", "state")


class TreeViewSet(RecordViewSet):
    """Tree specs: the shape a saddle shows the horse."""

    queryset = TreeSpec.objects.all()
    serializer_class = TreeSerializer
    filterset_class = TreeFilter
    ordering_fields = ("tag", "measured_on", "changed_at", "id")
    noun = "tree"
    add = staticmethod(add_tree)
    change = staticmethod(change_tree)


class SaddleSerializer(RecordSerializer):
    class Meta:
        model = Saddle
        fields = (
            "id",
            "tag",
            "kind",
            "tree",
            "owner",
            "maker_words",
            "seat_size_mm",
            "mass_kg",
            "rigging",
            "fork_to_cantle_mm",
            "fork_behind_tip_mm",
            "stirrup_behind_tip_mm",
            "stirrup_ahead_of_seat_mm",
            "skirt_length_mm",
            "panel_fill",
            "is_retired",
            "notes",
            *STAMPS,
        )


class SaddleFilter(django_filters.FilterSet):
    class Meta:
        model = Saddle
        fields = ("tag", "kind", "tree", "owner", "is_retired")


class SaddleViewSet(RecordViewSet):
    """Saddles, each with the practice's own tag."""

    queryset = Saddle.objects.all()
    serializer_class = SaddleSerializer
    filterset_class = SaddleFilter
    ordering_fields = ("tag", "changed_at", "id")
    noun = "saddle"
    add = staticmethod(add_saddle)
    change = staticmethod(change_saddle)


class PadSerializer(RecordSerializer):
    class Meta:
        model = Pad
        fields = (
            "id",
            "name",
            "material",
            "thickness_new_mm",
            "thickness_mm",
            "is_shaped",
            "is_retired",
            "notes",
            *STAMPS,
        )


class PadFilter(django_filters.FilterSet):
    class Meta:
        model = Pad
        fields = ("material", "is_retired")


class PadViewSet(RecordViewSet):
    """Pads: the layer between saddle and back."""

    queryset = Pad.objects.all()
    serializer_class = PadSerializer
    filterset_class = PadFilter
    ordering_fields = ("name", "thickness_mm", "changed_at", "id")
    noun = "pad"
    add = staticmethod(add_pad)
    change = staticmethod(change_pad)
