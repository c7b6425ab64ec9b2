"""The fold: one level's bytes to facts."""
