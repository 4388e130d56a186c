"""What holds for every test."""

from django.conf import settings


def pytest_configure() -> None:
    """Keep tests apart from the data of a person, and quick where speed costs no truth."""
    database = settings.DATABASES["default"]
    if "EMBEDDED_FOLDER" in database:
        database["EMBEDDED_FOLDER"] = settings.DATA_FOLDER / "tests"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
