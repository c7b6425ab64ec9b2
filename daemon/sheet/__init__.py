"""The page that is left of a job: what it says, and its three forms (PDF, HTML, lines for a logbook)."""
