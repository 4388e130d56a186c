from django.apps import AppConfig


class CircuitsConfig(AppConfig):
    name = "circuits"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Begin to listen to what is published."""
        from circuits import listening  # noqa: F401  # not before all models are there
