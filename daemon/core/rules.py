"""What a session's outputs depend on besides its inputs and header."""

RULES = 11
"""Raised by any change that alters an output of a golden session."""
FORMAT = 1
"""Raised by any change of the session file or its text form that an old reader cannot read."""
