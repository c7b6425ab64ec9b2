"""Trying a level and a set-up out before the job: zero, standard, play, pitch."""
