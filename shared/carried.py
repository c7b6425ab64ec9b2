"""What a session takes over from the one it continues, as its header must state it."""

from typing import Annotated

from pydantic import Field

from shared.model import Written
from shared.profile import NotNegative


class CarriedReference(Written):
    """The shaft's tilt as it was read: degrees, its standard uncertainty, from how many readings."""

    theta_deg: float
    u_deg: NotNegative
    n: Annotated[int, Field(ge=0)]


class CarriedBlade(Written):
    """A blade as it was last held: degrees, with the standard uncertainty."""

    angle_deg: float
    u_deg: NotNegative


class Carried(Written):
    """The reference, and the held blades by number."""

    reference: CarriedReference
    blades: dict[Annotated[str, Field(pattern="^[1-6]$")], CarriedBlade]
