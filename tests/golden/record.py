"""Write the golden session of today's format and rules, once: it is then kept for ever.

    python -m tests.golden.record

Refuses to overwrite: a change of outputs needs a new RULES, and with it a new file.
"""

import sys
from pathlib import Path

from daemon.core.rules import FORMAT, RULES
from daemon.demo.fast import fast
from daemon.session.text import lines

FOLDER = Path(__file__).parent
SCENARIO, SEED = "default", 5


def path() -> Path:
    """Return where today's golden session lies."""
    return FOLDER / f"format{FORMAT}-rules{RULES}.jsonl"


def main() -> int:
    """Write it."""
    target = path()
    if target.exists():
        print(f"{target.name} is there: raise RULES in daemon/core/rules.py first", file=sys.stderr)  # noqa: T201
        return 2
    recording = fast(SCENARIO, SEED).recording
    target.write_text("\n".join(lines(recording)) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
