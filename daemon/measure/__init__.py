"""Measuring, pure: tilts, stillness, averages, geometry, uncertainty, what moved."""
