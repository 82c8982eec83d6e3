"""/visits/<visit>/horses/<horse>/ recording, step by step."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
