"""A hangar with true blade angles: people who set, lift, turn and knock, and noisy levels."""
