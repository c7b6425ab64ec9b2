"""From averages to angles: geometry, budgets, the tilt of the shaft, verdicts on tolerance."""
