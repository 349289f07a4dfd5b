"""How a sum is declared: the fact it gives, and what to ask if it cannot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from coach.model import Scalar

Function = Callable[..., Scalar | None]


@dataclass(frozen=True, slots=True)
class Declared:
    """A sum as declared. `stands_in`: it gives a fact that people can tell, and only while they do not."""

    name: str
    asks: tuple[str, ...]
    function: Function
    stands_in: bool = False


DECLARED: list[Declared] = []
"""Every sum, in the order in which the modules declare them."""


def gives(name: str, *, asks: tuple[str, ...] = ()) -> Callable[[Function], Function]:
    """Declare that the function works out the fact `name`; `asks` is what to ask if it cannot."""

    def declare(function: Function) -> Function:
        DECLARED.append(Declared(name, asks, function))
        return function

    return declare


def stands_in(name: str) -> Callable[[Function], Function]:
    """Declare that the function works out a fact that people can tell; what they tell goes before it."""

    def declare(function: Function) -> Function:
        DECLARED.append(Declared(name, (), function, stands_in=True))
        return function

    return declare
