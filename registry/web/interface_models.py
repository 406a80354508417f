"""What programs send to the interface: fields as text with their units, as a person would write them."""

from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["AmendedModule", "IntendedDrop", "LoggedPlacement", "NewModule"]

_Short = Annotated[str, Field(min_length=1, max_length=200)]
_Text = Annotated[str, Field(max_length=2_000)]
_Length = Annotated[str, Field(max_length=60, examples=["18.6 m", "61 ft"])]


class _Sent(BaseModel):
    """A document whose unknown members are refused: a misspelt one is never left aside in silence."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True, allow_inf_nan=False)


class _Place(_Sent):
    """Where, and how deep."""

    permit: _Short
    at: Annotated[str, Field(min_length=1, max_length=400, examples=["34 01.250 N 077 20.110 W"])]
    #: Of the position; without it the programme's home frame is taken, and the answer says so.
    frame: Annotated[str, Field(max_length=60, examples=["EPSG:6318"])] | None = None
    epoch: Annotated[float, Field(ge=1900, le=2200)] | None = None
    r95: _Length | None = None
    receiver: Annotated[str, Field(max_length=40, examples=["sbas"])] = ""
    depth: _Length | None = None
    depth_u95: _Length | None = None
    tide: _Length | None = None

    def said(self) -> dict[str, Any]:
        """Give what is said of place and depth, under the names of a log entry."""
        names = ("frame", "epoch", "r95", "receiver", "depth", "depth_u95", "tide")
        return {"text": self.at, **{name: getattr(self, name) for name in names}}


class IntendedDrop(_Place):
    """A place where a module is to be set down."""

    type: Annotated[str, Field(min_length=1, max_length=200, description="Type of the module.")]
    tag: Annotated[str, Field(max_length=200, description="Which module, to know its target.")] = ""


class LoggedPlacement(_Place):
    """A module that lies on the seabed."""

    tag: _Short
    when: Annotated[str, Field(min_length=1, max_length=60, examples=["2026-06-14T10:32-04:00"])]
    key: Annotated[
        str,
        Field(
            min_length=8,
            max_length=100,
            description="Chosen by the sender, one for each placement: the same key is never recorded twice.",
        ),
    ]
    type: Annotated[str, Field(max_length=200, description="For a tag not recorded yet.")] = ""
    crew: _Text = ""
    vessel: _Text = ""
    note: _Text = ""


class NewModule(_Sent):
    """A module that is cast."""

    tag: _Short
    type: _Short
    cast_on: date | None = None
    mass_kg: Annotated[float, Field(gt=0, le=1e6)] | None = None


class AmendedModule(_Sent):
    """What a module is from now on; what is left out stays."""

    reason: _Text
    type: _Short | None = None
    cast_on: date | None = None
    mass_kg: Annotated[float, Field(gt=0, le=1e6)] | None = None
