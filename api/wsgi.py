"""The door for a WSGI server."""

import os

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
if settings.DEBUG:  # here we cannot see which address the server listens on
    raise ImproperlyConfigured(
        "COPPERLOG_DEBUG is for `manage.py runserver` on this machine alone. Unset it."
    )
application = get_wsgi_application()
