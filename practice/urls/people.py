"""/clients/, /places/, /riders/, /settings/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
