"""Clocks, tasks and queues round the engine: what makes inputs of what happens."""
