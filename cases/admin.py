"""Look at what is stored. Cases are changed through services, so nothing is edited here."""

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from cases.models import (
    Attempt,
    Case,
    CaseChange,
    Exercise,
    LoggedReading,
    Membership,
    Shop,
    Vehicle,
    Verdict,
)


class LookOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Rows that can be looked at and neither added, changed nor deleted."""

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(Shop)
class ShopAdmin(LookOnly):
    list_display = ("name", "slug", "hold_days", "last_case_number")
    search_fields = ("name", "slug")


@admin.register(Membership)
class MembershipAdmin(LookOnly):
    list_display = ("user", "shop", "role", "since")
    list_select_related = ("user", "shop")


@admin.register(Case)
class CaseAdmin(LookOnly):
    list_display = ("key", "vehicle", "claimed_suspect", "outcome", "earned_standing", "shared_at")
    list_filter = ("shop", "outcome", "earned_standing")
    list_select_related = ("shop", "vehicle")


@admin.register(LoggedReading)
class ReadingAdmin(LookOnly):
    list_display = ("case", "place_key", "phase_key", "text", "unit", "stage", "by", "at")
    list_select_related = ("case__shop", "by")


admin.site.register((CaseChange, Exercise, Attempt, Vehicle, Verdict), LookOnly)
