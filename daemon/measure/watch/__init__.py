"""Has a held blade moved while a level lies on it? Pure; no job, no clock.

`watch` is the way in: its modes and the rules between them. `cusums` and `detector` notice that
a stream is not what it was; `record` asks whether it is at rest, with the noise of `rest`;
`creep` finds a slope; `track` follows where the blade stands; `judge` says what a lasting change
means, in the sentences of `phrases`; `streams` holds the two streams of a watch together.

All angles in degrees, positive is coarser; the witness's in the same sense. Time is counted in
samples of the watched level: silence is told by `missed`.

Limits without a source beside them are chosen: `benchmarks.confirmation` shows what they give.
"""
