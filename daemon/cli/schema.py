"""`stillblade schema`: the JSON Schema of what is read and written."""

import json
from typing import Literal


def schema(what: Literal["job", "procedure", "level", "session", "messages", "broker"]) -> int:
    """Print the JSON Schema of what the program reads and writes.

    Parameters
    ----------
    what
        job, procedure and level: the TOML files; session: a line of the text form; messages: --json;
        broker: what is published, a property a topic.
    """
    from daemon.cli.json_schemas import schema_of

    print(json.dumps(schema_of(what), indent=2))
    return 0
