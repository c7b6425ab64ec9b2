"""The command line: a file a command, called after it, and what they print with.

Where the daemon has a file of that name already, a second word follows (`replay_session`). What a
command works with is imported inside it, so that `--help` loads none of it.
"""
