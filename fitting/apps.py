from importlib import import_module

from django.apps import AppConfig
from django.conf import settings


class FittingConfig(AppConfig):
    name = "fitting"

    def ready(self) -> None:
        # Only if asked for: commands that need no engine should not wait for it to load.
        if settings.ENGINE_COMPILED:
            import_module("fitting.services.solver").use_compiled_solver()
