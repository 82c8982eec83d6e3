"""Clients, places, riders, members and who is what to a horse."""

from datetime import date
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from rest_framework.authtoken.models import Token

from horses.models import Horse
from horses.services.horses import add_horse
from horses.services.records import store
from practice.models import Client, Consent, HorseRole, Place, Practice, Rider, User


def add_client(**values: Any) -> Client:
    return store(Client(), **values)


def change_client(*, client: Client, **values: Any) -> Client:
    return store(client, **values)


def add_place(**values: Any) -> Place:
    return store(Place(), **values)


def change_place(*, place: Place, **values: Any) -> Place:
    return store(place, **values)


def add_rider(**values: Any) -> Rider:
    return store(Rider(), **values)


@transaction.atomic
def change_rider(*, rider: Rider, **values: Any) -> Rider:
    """Change a rider; a weight that is deleted is deleted from what was said before, too."""
    kept = rider.mass_kg is not None
    store(rider, **values)
    if kept and rider.mass_kg is None:
        for row in rider.history.exclude(mass_kg=None):
            row.mass_kg = None
            row.typed.pop("mass_kg", None)
            row.save()
    return rider


def record_consent(*, client: Client, **values: Any) -> Consent:
    """Write down one yes or no; earlier answers stay on record."""
    return store(Consent(), client=client, **values)


def set_horse_role(
    *,
    horse: Horse,
    client: Client,
    role: str,
    from_date: date | None,
    to_date: date | None = None,
) -> HorseRole:
    """Say who is what to a horse from a date; the same role begun on that day is changed."""
    existing = HorseRole.objects.filter(
        horse=horse, client=client, role=role, from_date=from_date
    ).first()
    record = existing or HorseRole(horse=horse, client=client, role=role, from_date=from_date)
    return store(record, to_date=to_date)


@transaction.atomic
def add_owned_horse(
    *, owner: Client | None, owned_since: date | None = None, new_owner: str = "", **values: Any
) -> Horse:
    """Add a horse with its owner, who may be a client not yet known by more than a name."""
    horse = add_horse(**values)
    if owner is None and new_owner:
        owner = add_client(name=new_owner)
    if owner is not None:
        set_horse_role(horse=horse, client=owner, role=HorseRole.Role.OWNER, from_date=owned_since)
    return horse


def change_horse_role(*, horse_role: HorseRole, **values: Any) -> HorseRole:
    return store(horse_role, **values)


@transaction.atomic
def add_member(*, password: str, **values: Any) -> User:
    """Open an account; raises ValidationError at `password` for a weak one."""
    member = User(**values)
    _set_password(member, password)
    return store(member)


@transaction.atomic
def change_member(*, member: User, password: str = "", **values: Any) -> User:
    """Change an account; an empty password leaves the old one. One active lead must stay.

    A new password ends the account's API token, as Django ends its sessions.
    """
    for name, value in values.items():
        setattr(member, name, value)
    if not member.is_lead and not _other_leads(member):
        raise ValidationError({"role": "Someone must stay lead: this is the only lead account."})
    if password:
        _set_password(member, password)
        Token.objects.filter(user=member).delete()
    member.full_clean()
    member.save()
    return member


def _other_leads(member: User) -> bool:
    leads = User.objects.filter(role=User.Role.LEAD, is_active=True)
    return leads.exclude(pk=member.pk).exists()


def _set_password(member: User, password: str) -> None:
    try:
        validate_password(password, member)
    except ValidationError as problem:
        raise ValidationError({"password": problem.messages}) from problem
    member.set_password(password)


def change_practice(*, practice: Practice, **values: Any) -> Practice:
    return store(practice, **values)
