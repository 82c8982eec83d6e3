"""/visits/<visit>/horses/<horse>/report/ and the public /r/<token>/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
