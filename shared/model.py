"""The base of everything a person writes: unknown keys, NaN and infinities are errors."""

from pydantic import BaseModel, ConfigDict


class Written(BaseModel):
    """A table in a job or profile file. Frozen; forbids unknown keys; refuses NaN and 1e999."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
