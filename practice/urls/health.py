"""/healthz"""

from django.urls import path

from practice.views import health

urlpatterns = [path("healthz", health.healthz, name="healthz")]
