"""/horses/<horse>/ the horse's page: soreness first, then charts, pairings, visits."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
