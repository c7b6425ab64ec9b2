"""Levels of formats that nobody wrote a profile for, and the person who shows what they do.

Everything is drawn from a seed: how the bytes look, what the numbers mean, how the level is
held. It was written before the learner of formats, and knows nothing of it: its checks are
worked out bit by bit, its motions are what a person does, and its truth is the pose.
"""
