"""The terminal screens. They are given a Desk and nothing else."""
