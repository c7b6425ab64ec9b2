"""The simulated hangar in front of the ordinary engine, on data time or on real time."""
