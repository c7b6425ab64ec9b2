"""Learning a level's format: bytes and marks of motions in, ranked profiles out. Pure.

`learn` in `drivers.learn.learning` does it; `drivers.learn.asked` has what goes in and comes out.
What it knows of formats is what the codecs can read, and every candidate is a whole profile that
was built and run on frames it was not found on.
"""
