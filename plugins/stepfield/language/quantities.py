"""Quantities with units: a closed table of those the trade writes, reckoned in decimals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

TIME = "time"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: a value in it, plus ``offset``, times ``factor``, is the value in the first unit of its ``dimension``."""

    dimension: str
    factor: Decimal = Decimal(1)
    offset: Decimal = Decimal(0)


_PER_DEGREE = Decimal(5) / Decimal(9)
UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "s": Unit(TIME),
        "min": Unit(TIME, Decimal(60)),
        "h": Unit(TIME, Decimal(3600)),
        "d": Unit(TIME, Decimal(86_400)),
        "mm": Unit("length"),
        "cm": Unit("length", Decimal(10)),
        "m": Unit("length", Decimal(1000)),
        "in": Unit("length", Decimal("25.4")),
        "degC": Unit("temperature"),
        "degF": Unit("temperature", _PER_DEGREE, Decimal(-32)),
        "mL": Unit("volume"),
        "L": Unit("volume", Decimal(1000)),
        "Pa": Unit("pressure"),
        "kPa": Unit("pressure", Decimal(1000)),
        "bar": Unit("pressure", Decimal(100_000)),
        "%": Unit("share"),
        "ACH": Unit("air changes"),
        "CFU/mL": Unit("germs in water"),
    }
)
"""Every unit that may be written, by its sign; ACH are air changes per hour, CFU/mL colonies in a millilitre."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and the sign of its unit, as written: 3 min, 30 cm, 15 ACH."""

    value: Decimal
    unit: str

    @property
    def dimension(self) -> str:
        """What is measured; only quantities of one dimension can be compared."""
        return UNITS[self.unit].dimension

    @property
    def base(self) -> Decimal:
        """The value in the first unit of its dimension: seconds, millimetres, degrees Celsius and so on."""
        unit = UNITS[self.unit]
        return (self.value + unit.offset) * unit.factor

    @property
    def seconds(self) -> float | None:
        """The length of time in seconds; None if it is no time."""
        return float(self.base) if self.dimension == TIME else None

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"


@dataclass(frozen=True, slots=True)
class Limit:
    """What a requirement asks of a quantity: at least, at most, or both; both are of one dimension."""

    at_least: Quantity | None = None
    at_most: Quantity | None = None

    @property
    def dimension(self) -> str:
        """What is limited."""
        bound = self.at_least or self.at_most
        assert bound is not None  # a limit has one of the two
        return bound.dimension

    def is_kept_by(self, found: Quantity) -> bool:
        """Whether a quantity of the same dimension lies within."""
        is_enough = self.at_least is None or found.base >= self.at_least.base
        return is_enough and (self.at_most is None or found.base <= self.at_most.base)

    def __str__(self) -> str:
        told = [f"at least {self.at_least}"] if self.at_least is not None else []
        return " and ".join([*told, f"at most {self.at_most}"] if self.at_most is not None else told)


def quantity(written: str) -> Quantity:
    """The quantity that a text such as ``30 cm`` says. Raises ValueError if there is no number or no known unit."""
    number, _, unit = written.partition(" ")
    if unit not in UNITS or not number.removeprefix("-").replace(".", "", 1).isdecimal():
        raise ValueError(f"{written!r} is no number with one of the units {', '.join(UNITS)}")
    return Quantity(Decimal(number), unit)
