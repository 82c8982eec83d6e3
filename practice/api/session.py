"""/api/v1/token/: a token for programs."""

from typing import Any, cast

from django.contrib.auth import authenticate
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import Throttled, ValidationError
from rest_framework.permissions import AllowAny, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from practice.access import may_read
from practice.models import User


class SignInSerializer(serializers.Serializer[Any]):
    username = serializers.CharField(max_length=150)
    password = serializers.CharField(
        max_length=1000, trim_whitespace=False, style={"input_type": "password"}, write_only=True
    )


class TokenSerializer(serializers.Serializer[Any]):
    token = serializers.CharField(read_only=True)


class SignInThrottle(SimpleRateThrottle):
    """Few tries a minute from one address, on top of the pause after wrong passwords."""

    rate = "10/min"
    scope = "token"

    def get_cache_key(self, request: Request, view: APIView) -> str:
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}


class TokenView(APIView):
    """Get a token by name and password, or give it back."""

    def get_permissions(self) -> list[Any]:
        return [AllowAny()] if self.request.method == "POST" else [IsAuthenticated()]

    def get_throttles(self) -> list[Any]:
        return [SignInThrottle()] if self.request.method == "POST" else super().get_throttles()

    @extend_schema(request=SignInSerializer, responses=TokenSerializer, auth=[])
    def post(self, request: Request) -> Response:
        """Return this account's token. Send it as `Authorization: Token <token>`."""
        sign_in = SignInSerializer(data=request.data)
        sign_in.is_valid(raise_exception=True)
        django_request = request._request
        user = authenticate(django_request, **sign_in.validated_data)
        if getattr(django_request, "axes_locked_out", False):
            # Otherwise the sign-in's HTML page takes the place of this answer.
            setattr(django_request, "axes_locked_out", False)  # noqa: B010
            raise Throttled(detail="Too many wrong passwords. Wait a while before the next try.")
        if user is None or not may_read(user):
            raise ValidationError({"whole": "Name and password do not belong together."})
        token, _ = Token.objects.get_or_create(user=user)
        return Response({"token": token.key})

    @extend_schema(request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Make this account's token useless."""
        Token.objects.filter(user=cast(User, request.user)).delete()
        return Response(status=status.HTTP_204_NO_CONTENT)
