"""From the air or the wire to bytes, and from bytes to samples."""
