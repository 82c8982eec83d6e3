from django.apps import AppConfig

from practice.celery import app as celery_app


class PracticeConfig(AppConfig):
    name = "practice"

    def ready(self) -> None:
        # So that tasks called by the web server go to our queue, not to Celery's default app.
        celery_app.set_default()
