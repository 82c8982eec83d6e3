"""/api/v1/clients/, /places/ and /riders/: the people, kept to what a program needs."""

from typing import Any

import django_filters
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework.serializers import BaseSerializer
from rest_framework.viewsets import ReadOnlyModelViewSet

from horses.api.records import Pages, RecordSerializer, lead_asks_for
from practice.models import Client, Place, Rider


class ClientSerializer(RecordSerializer):
    class Meta:
        model = Client
        fields = ("id", "name", "contact_name", "email", "phone", "units", "changed_at")


class ClientFilter(django_filters.FilterSet):
    name = django_filters.CharFilter("name", "icontains", label="Part of the name")

    class Meta:
        model = Client
        fields = ()


class ClientViewSet(ReadOnlyModelViewSet[Client]):
    """Clients: who calls and pays."""

    queryset = Client.objects.all()
    serializer_class = ClientSerializer
    filterset_class = ClientFilter
    pagination_class = Pages
    lookup_value_regex = r"\d+"


class PlaceSerializer(RecordSerializer):
    class Meta:
        model = Place
        fields = ("id", "name", "has_level_ground", "is_covered", "has_signal", "changed_at")


class PlaceFilter(django_filters.FilterSet):
    name = django_filters.CharFilter("name", "icontains", label="Part of the name")

    class Meta:
        model = Place
        fields = ()


class PlaceViewSet(ReadOnlyModelViewSet[Place]):
    """Barns, yards and ranches, without addresses and gate notes."""

    queryset = Place.objects.all()
    serializer_class = PlaceSerializer
    filterset_class = PlaceFilter
    pagination_class = Pages
    lookup_value_regex = r"\d+"


class RiderSerializer(RecordSerializer):
    class Meta:
        model = Rider
        fields = ("id", "name", "client", "is_minor", "changed_at")


class RiderWithMassSerializer(RiderSerializer):
    class Meta(RiderSerializer.Meta):
        fields = (*RiderSerializer.Meta.fields, "mass_kg")  # type: ignore[assignment]


class RiderFilter(django_filters.FilterSet):
    name = django_filters.CharFilter("name", "icontains", label="Part of the name")

    class Meta:
        model = Rider
        fields = ("client", "is_minor")


INCLUDE = OpenApiParameter(
    "include",
    enum=["mass"],
    description="The lead fitter may ask for the rider's weight; it is left out otherwise.",
)
READ = extend_schema(parameters=[INCLUDE], responses=RiderWithMassSerializer)


@extend_schema_view(list=READ, retrieve=READ)
class RiderViewSet(ReadOnlyModelViewSet[Rider]):
    """Riders. `mass_kg` is only there for the lead fitter who asks with `?include=mass`."""

    queryset = Rider.objects.all()
    filterset_class = RiderFilter
    pagination_class = Pages
    lookup_value_regex = r"\d+"

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        shows_mass = lead_asks_for(self.request, "mass")
        return RiderWithMassSerializer if shows_mass else RiderSerializer
