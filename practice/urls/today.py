"""/ the day's round and what is due."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
