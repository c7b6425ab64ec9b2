"""The service: from the bytes of a level to a blade angle, a verdict and a record."""
