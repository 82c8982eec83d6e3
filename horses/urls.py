"""/horses/ list, add, edit."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
