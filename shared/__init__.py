"""The vocabulary every room speaks: angles, jobs, level profiles, inputs, events, the Desk."""
