"""Measured figures, seeded; one command each. They run from a checkout only."""
