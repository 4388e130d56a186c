"""Circuits in Django's own admin: to look at, never to change (services publish revisions)."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from circuits.models import Circuit, Revision


class LookOnly(admin.ModelAdmin[Any]):
    """Rows that are shown and left alone."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Circuit)
class CircuitAdmin(LookOnly):
    list_display = ("key", "title", "system", "make", "model")
    list_filter = ("system",)
    search_fields = ("key", "title", "make", "model")


@admin.register(Revision)
class RevisionAdmin(LookOnly):
    list_display = ("circuit", "number", "note", "author", "created_at")
    list_select_related = ("circuit", "author")
    search_fields = ("circuit__key", "note")
