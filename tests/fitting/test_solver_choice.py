"""The setting that asks for the compiled solver."""

import sys

import pytest
from django.apps import apps
from django.core.exceptions import ImproperlyConfigured

from fitting.services import solver


def test_no_compiled_solver_unless_the_settings_ask(settings, monkeypatch):
    asked = []
    monkeypatch.setattr(solver, "prefer", asked.append)
    apps.get_app_config("fitting").ready()
    assert asked == []
    settings.ENGINE_COMPILED = True
    apps.get_app_config("fitting").ready()
    assert asked == [True]


def test_asked_for_without_its_compiler_the_site_does_not_start(settings, monkeypatch):
    monkeypatch.delitem(sys.modules, "fitting.engine.kernels", raising=False)
    monkeypatch.setitem(sys.modules, "numba", None)
    settings.ENGINE_COMPILED = True
    with pytest.raises(ImproperlyConfigured, match="ENGINE_COMPILED"):
        apps.get_app_config("fitting").ready()
