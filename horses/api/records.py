"""What every resource of the API shares: limits, finite numbers, paging, writing by services."""

import math
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any, cast

from django.db import models
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework import serializers
from rest_framework.filters import OrderingFilter
from rest_framework.mixins import CreateModelMixin, UpdateModelMixin
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.viewsets import ReadOnlyModelViewSet

Limits = dict[str, dict[str, float]]
BOUNDS = {"gte": "min_value", "lte": "max_value"}


class Pages(PageNumberPagination):
    """Numbered pages; the reader may choose the size up to a cap."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200

    def get_page_size(self, request: Request) -> int:
        asked = request.query_params.get("page_size", str(self.page_size))
        if not (asked.isascii() and asked.isdecimal()) or not int(asked[:9]):
            raise serializers.ValidationError({"page_size": ["Write a whole number from 1."]})
        return min(int(asked[:9]), self.max_page_size)


class FiniteFloatField(serializers.FloatField):
    """A number that is neither infinite nor 'not a number', which JSON readers cannot take."""

    def to_internal_value(self, data: Any) -> float:
        number: float = super().to_internal_value(data)
        if not math.isfinite(number):
            self.fail("invalid")
        return number


class PointField(serializers.ListField):
    """A pair of numbers in mm."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.update(child=FiniteFloatField(), min_length=2, max_length=2)
        super().__init__(**kwargs)


class PointsField(serializers.ListField):
    """A profile: at least two [along_mm, across_mm] pairs in the order they were taken."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.update(child=PointField(), min_length=2, max_length=400)
        super().__init__(**kwargs)


def _bounds_in(condition: models.Q) -> Iterator[tuple[str, str, float]]:
    for part in condition.children:
        if isinstance(part, models.Q):
            yield from _bounds_in(part)
            continue
        path, value = cast(tuple[str, Any], part)
        name, _, lookup = path.rpartition("__")
        if lookup in BOUNDS:
            yield name, BOUNDS[lookup], value


@cache
def limits_of(model: type[models.Model]) -> Limits:
    """Return the hard limits the database holds for each field: min_value and max_value.

    Reading them from the constraints keeps one place for each limit, and puts it both at the
    field in an error and in the schema.
    """
    limits: Limits = {}
    for constraint in model._meta.constraints:
        if not constraint.name.endswith("_range"):
            continue
        condition = cast(models.CheckConstraint, constraint).condition
        for name, bound, value in _bounds_in(cast(models.Q, condition)):
            limits.setdefault(name, {})[bound] = value
    return limits


def lead_asks_for(request: Request, what: str) -> bool:
    """Return whether `?include=<what>` stands in the address and the lead fitter asks.

    Raises ValidationError at `include` for anything else that is asked for.
    """
    asked = request.query_params.get("include")
    if asked not in {None, what}:
        raise serializers.ValidationError({"include": [f"Only {what} can be included."]})
    return asked is not None and bool(getattr(request.user, "is_lead", False))


class RecordSerializer(serializers.ModelSerializer[Any]):
    """A model's fields with the database's own limits on them."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        models.FloatField: FiniteFloatField,
    }

    def build_standard_field(
        self, field_name: str, model_field: "models.Field[Any, Any]"
    ) -> "tuple[type[serializers.Field[Any, Any, Any, Any]], dict[str, Any]]":
        field_class, options = super().build_standard_field(field_name, model_field)
        limits = limits_of(model_field.model).get(field_name)
        if limits and issubclass(field_class, serializers.FloatField | serializers.IntegerField):
            options |= limits
        return field_class, options


class RecordViewSet(CreateModelMixin, UpdateModelMixin, ReadOnlyModelViewSet[Any]):
    """List, read, add and change through the services `add` and `change`. Nothing is deleted."""

    http_method_names = ["get", "post", "patch", "head", "options"]
    filter_backends = [DjangoFilterBackend, OrderingFilter]
    pagination_class = Pages
    lookup_value_regex = r"\d+"
    noun = ""
    add: Callable[..., models.Model]
    change: Callable[..., models.Model]

    @property
    def member(self) -> Any:
        """Who is asking; the permissions let in nobody who is not a member."""
        return self.request.user

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        serializer.instance = type(self).add(**serializer.validated_data)

    def perform_update(self, serializer: serializers.BaseSerializer[Any]) -> None:
        record = {self.noun: serializer.instance}
        serializer.instance = type(self).change(**record, **serializer.validated_data)
