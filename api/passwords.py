"""How passwords are hashed."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class SmallArgon2(Argon2PasswordHasher):
    """Argon2id with 19 MiB, two rounds and one lane.

    That is the first of the settings that the OWASP Password Storage Cheat Sheet names. Django's
    own take some 100 MB for each sign-in at the same moment, too much for a small machine.
    """

    time_cost = 2
    memory_cost = 19456  # KiB
    parallelism = 1
