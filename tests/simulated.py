"""Jobs of the simulated person, each played once in a process: who looks at one looks at the same."""

from functools import cache

from daemon.demo.fast import Outcome, fast


@cache
def simulated(scenario: str, seed: int) -> Outcome:
    """Return what came of a scenario; nobody changes it."""
    return fast(scenario, seed)
