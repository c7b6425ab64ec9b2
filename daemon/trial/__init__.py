"""Trial flights: what an engine says of a setting, held against the manuals' limits, and the next small step."""
