"""Judges of the engine that share no code with it: a circuit simulator, and slow plain solvers."""
