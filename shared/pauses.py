"""The pauses around the answer to an alarm: the same for a press and for a level that is turned over."""

LOOK_S = 1.5
"""So long after an alarm or a question began nothing answers it: that press was meant for a reading."""
TAKE_BACK_S = 5.0
"""So long setting again can be taken back, by the same once more."""
