"""What logged readings allow: which faults fit, how likely each is, and what to read next."""
