"""The job's stages, pure: the plan, whose reading it is, what the verdicts ask for."""
