"""What comes out of a still stretch of a level's stream."""

from dataclasses import dataclass


@dataclass(slots=True)
class Reading:
    """A robust average of one still stretch, in the level's own convention, degrees.

    Attributes:
        mean_deg: the average, in (-180, 180].
        u_deg: standard uncertainty of the average: noise and its autocorrelation. What the
            resolution adds is not in here but in `resolution_deg`, so that it is counted once.
        dof: degrees of freedom of `u_deg`.
        n: samples that were averaged, outliers left out.
        sd_deg: standard deviation of one sample.
        lag1: lag-1 autocorrelation that was assumed in `u_deg`.
        reached: False when the longest time ended before the target was reached.
        psi_deg: elevation of the span (asin of its vertical part), where the level knows it.
        u_psi_deg: standard uncertainty of `psi_deg`.
        resolution_deg: the step of the level's own display.
        u_rounding_deg: standard uncertainty that rounding leaves in the average, where the
            noise is known to dither it; None: all of it, resolution / (2 sqrt 3).
        u_sway_deg: standard uncertainty that a sway of the aircraft leaves in it besides; None:
            nobody knew of one when it was read.
    """

    mean_deg: float
    u_deg: float
    dof: float
    n: int
    sd_deg: float
    lag1: float
    reached: bool
    psi_deg: float | None
    u_psi_deg: float | None
    resolution_deg: float
    u_rounding_deg: float | None = None
    u_sway_deg: float | None = None
