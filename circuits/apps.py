from django.apps import AppConfig


class CircuitsConfig(AppConfig):
    name = "circuits"
    default_auto_field = "django.db.models.BigAutoField"
