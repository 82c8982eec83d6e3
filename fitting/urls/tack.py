"""/saddles/, /trees/, /pads/, /pairings/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
