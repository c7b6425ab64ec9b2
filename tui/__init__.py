"""The terminal screen: given a Desk and nothing else."""
