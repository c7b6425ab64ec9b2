"""The session file, its text form, replay; job files and headers; which session is taken up."""
