"""/api/v1/horses/"""

import django_filters

from horses.api.records import RecordSerializer, RecordViewSet
from horses.models import Horse
from horses.services.horses import add_horse, change_horse


class HorseSerializer(RecordSerializer):
    class Meta:
        model = Horse
        fields = (
            "id",
            "barn_name",
            "registered_name",
            "sex",
            "birth_date",
            "birth_precision",
            "breed",
            "colour",
            "markings",
            "microchip",
            "life_number",
            "height_mm",
            "use",
            "temperament",
            "state",
            "place",
            "notes",
            "created_at",
            "changed_at",
        )


class HorseFilter(django_filters.FilterSet):
    name = django_filters.CharFilter("barn_name", "icontains", label="Part of the barn name")
    born_from = django_filters.DateFilter("birth_date", "gte", label="Born on or after")
    born_to = django_filters.DateFilter("birth_date", "lte", label="Born on or before")

    class Meta:
        model = Horse
        fields = ("state", "sex", "place")


class HorseViewSet(RecordViewSet):
    """Horses in the practice's care."""

    queryset = Horse.objects.all()
    serializer_class = HorseSerializer
    filterset_class = HorseFilter
    ordering_fields = ("barn_name", "birth_date", "changed_at", "id")
    noun = "horse"
    add = staticmethod(add_horse)
    change = staticmethod(change_horse)
