"""The forms in which what a shop writes travels; every document that leaves carries a `schema`."""
