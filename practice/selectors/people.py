"""Clients, places, riders and members as pages show them."""

from typing import Any

from django.db.models import Count, F, Q, QuerySet
from django.utils import timezone

from horses.models import Horse
from practice.models import Client, HorseRole, Place, Rider, User


def clients_listed(words: str = "") -> QuerySet[Client]:
    """Return clients with how many horses they have a part in now."""
    clients = Client.objects.all()
    for word in words.split():
        clients = clients.filter(
            Q(name__icontains=word)
            | Q(contact_name__icontains=word)
            | Q(phone__icontains=word)
            | Q(email__icontains=word)
        )
    current = Q(horse_roles__to_date__isnull=True) | Q(
        horse_roles__to_date__gte=timezone.localdate()
    )
    return clients.annotate(
        horse_count=Count("horse_roles__horse", filter=current, distinct=True),
    ).order_by("name", "pk")


def places_listed() -> QuerySet[Place]:
    in_care = ~Q(horses__state__in=(Horse.State.SOLD, Horse.State.DIED))
    return Place.objects.annotate(
        horse_count=Count("horses", filter=in_care, distinct=True)
    ).order_by("name", "pk")


def roles_of_client(client: Client) -> QuerySet[HorseRole]:
    return client.horse_roles.select_related("horse").order_by(
        F("to_date").desc(nulls_first=True), "horse__barn_name", "pk"
    )


def riders_of_client(client: Client) -> QuerySet[Rider]:
    return client.riders.all()


def members_listed() -> QuerySet[User]:
    return User.objects.order_by("-is_active", "role", "username")


def suggested_place(horse_pk: int) -> dict[str, Any]:
    """Return the place and owner of a horse, to start a booking with."""
    horse = Horse.objects.filter(pk=horse_pk).first()
    if horse is None:
        return {}
    today = timezone.localdate()
    roles = HorseRole.objects.filter(horse=horse).exclude(to_date__lt=today)
    owner = roles.filter(role=HorseRole.Role.OWNER).first() or roles.first()
    found: dict[str, Any] = {"place": horse.place_id} if horse.place_id else {}
    return found | ({"client": owner.client_id} if owner else {})


def place_of_client(client_pk: int) -> dict[str, Any]:
    """Return the place to start a booking with: where all horses of a client stand, if one."""
    horses = Horse.objects.filter(roles__client=client_pk, roles__to_date=None)
    in_care = horses.exclude(state__in=(Horse.State.SOLD, Horse.State.DIED))
    places = set(in_care.exclude(place=None).values_list("place_id", flat=True))
    return {"place": places.pop()} if len(places) == 1 else {}
