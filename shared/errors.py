"""The two errors a person meets: input that is wrong, and a world that failed; why no file is read."""


def unread(error: OSError | UnicodeDecodeError) -> str:
    """Return why a file a person named cannot be read, in words."""
    if isinstance(error, UnicodeDecodeError):
        return "not a text file in UTF-8"
    return error.strerror or "the system does not say why"


class BadInputError(Exception):
    """Something the user wrote cannot be used: what, where, and what was expected.

    Attributes:
        where: file, port or command the input came from.
        key: path of the key inside it ("level 1: port"), or "" for the whole.
        problem: what is wrong, in words.
        remedy: what to do about it, in words, or "".
    """

    def __init__(self, where: str, key: str, problem: str, remedy: str = "") -> None:
        self.where = where
        self.key = key
        self.problem = problem
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        """One line: where: key: problem (remedy)."""
        parts = [part for part in (self.where, self.key, self.problem) if part]
        return ": ".join(parts) + (f" ({self.remedy})" if self.remedy else "")


class OutsideError(Exception):
    """The outside world failed: a disk, a port, a bus. Exit code 3.

    Attributes:
        problem: what failed, in words.
        remedy: what a person can do, in words, or "".
    """

    def __init__(self, problem: str, remedy: str = "") -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem} ({remedy})" if remedy else problem)
