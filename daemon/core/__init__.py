"""The fold: inputs in, events out."""
