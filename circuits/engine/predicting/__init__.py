"""What a circuit would show: in each phase, under each fault, along each severity."""
