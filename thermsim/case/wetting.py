"""What the coolant touches."""

from typing import Literal

from thermsim.case.fields import Table

Metal = Literal["aluminium", "copper", "brass", "bronze", "nickel", "steel", "stainless steel", "zinc", "plastic"]


class Wetted(Table):
    """What of an element the coolant touches, for the check of the mix."""

    wetted: tuple[Metal, ...] = ()
