"""The session file, its text form, replay."""
