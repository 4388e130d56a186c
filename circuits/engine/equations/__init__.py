"""A circuit's equations: compiled once, factorised once, and solved for many faults together."""
