from practice.models.alerts import AlertDeferral
from practice.models.people import Client, Consent, HorseRole, Place, Practice, Rider, User
from practice.models.visits import (
    RecoveryLink,
    ShareLink,
    ShareView,
    StepDraft,
    Visit,
    VisitHorse,
    new_token,
)

__all__ = [
    "AlertDeferral",
    "Client",
    "Consent",
    "HorseRole",
    "Place",
    "Practice",
    "RecoveryLink",
    "Rider",
    "ShareLink",
    "ShareView",
    "StepDraft",
    "User",
    "Visit",
    "VisitHorse",
    "new_token",
]
