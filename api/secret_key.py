"""The key that signs sessions, kept in the data folder when the environment brings none."""

import os
import secrets
import tempfile
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def kept_secret_key(data_folder: Path) -> str:
    """Return the key of this installation, drawn on first use and readable by its user alone."""
    path = data_folder / "secret-key"
    try:
        if not path.exists():
            data_folder.mkdir(parents=True, exist_ok=True)
            _draw_key(path)
        key = path.read_text().strip()
    except OSError as error:
        raise ImproperlyConfigured(
            f"The secret key in {path} cannot be read or made ({error.strerror}). Start Copperlog"
            " as the user who owns that folder, set COPPERLOG_DATA to another folder, or set"
            " COPPERLOG_SECRET_KEY."
        ) from error
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"The secret key in {path} is too short to be one of ours. Delete that file: a new key"
            " is drawn, and everybody signs in again."
        )
    return key


def _draw_key(path: Path) -> None:
    """Write a whole key under a name of its own, then link it: of two starts at once, one wins."""
    descriptor, fresh = tempfile.mkstemp(dir=path.parent)
    try:
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(48))
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        os.unlink(fresh)
