"""Two pages for whoever watches the server: is the process up, and can it work."""

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

_migrated = False  # stays true once seen: a running program's own migrations do not change


@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """Answer as long as the process does."""
    return HttpResponse("alive\n", content_type="text/plain")


@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Answer 200 when the database is there and up to this program, else 503 with the reason."""
    global _migrated
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        if not _migrated:
            executor = MigrationExecutor(connection)
            _migrated = not executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return HttpResponse("no database\n", content_type="text/plain", status=503)
    if not _migrated:
        return HttpResponse("migrations missing\n", content_type="text/plain", status=503)
    return HttpResponse("ready\n", content_type="text/plain")
