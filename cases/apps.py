from django.apps import AppConfig


class CasesConfig(AppConfig):
    name = "cases"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Begin to listen to what circuits tell."""
        from cases import listening  # noqa: F401  # not before all models are there
