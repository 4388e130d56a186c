"""Which state relays, diodes and memory settle in, phase by phase, and how far that may be off."""
