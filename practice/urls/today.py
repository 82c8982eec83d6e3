"""/ the day's round and what is due."""

from django.urls import path

from practice.views import today

urlpatterns = [path("", today.today, name="today")]
