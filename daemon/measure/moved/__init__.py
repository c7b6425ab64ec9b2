"""Has a blade moved between two readings? `diagnose`: odds, then decide, then explain."""
