"""Who may see and do what. Every page and the API ask here."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from practice.models import User

View = TypeVar("View", bound=Callable[..., HttpResponseBase])
SAFE = frozenset(SAFE_METHODS)


def may_read(user: User | AnonymousUser) -> bool:
    return isinstance(user, User) and user.may_read


def may_write(user: User | AnonymousUser) -> bool:
    return isinstance(user, User) and user.may_write


def public(view: View) -> View:
    """Mark a view as open to people who are not signed in."""
    view.is_public = True  # type: ignore[attr-defined]
    return view


def lead_only(view: View) -> View:
    """Let only the lead fitter in; for everyone else the page does not exist."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not (isinstance(request.user, User) and request.user.is_lead):
            raise Http404
        return view(request, *args, **kwargs)

    return guarded  # type: ignore[return-value]


class MayUseApi(BasePermission):
    """Members may read through the API; only those who may write may change.

    For an account without a role nothing exists, as on the pages.
    """

    message = "This account may read but not change records."

    def has_permission(self, request: Request, view: Any) -> bool:
        if not may_read(request.user):
            if request.user.is_authenticated:
                raise Http404
            return False
        return request.method in SAFE or may_write(request.user)
