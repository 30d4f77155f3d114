"""Densities of what parts are made of, kg/dm³ (g/cm³), with their source."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

MATERIAL_SOURCE = "common tables of materials, rounded; weigh what matters"
DENSITIES: Mapping[str, float] = MappingProxyType(
    {
        "steel": 7.85,
        "stainless steel": 7.9,
        "cast iron": 7.2,
        "aluminium": 2.7,
        "brass": 8.5,
        "bronze": 8.8,
        "titanium": 4.5,
        "magnesium": 1.8,
        "lead": 11.3,
        "polyamide": 1.14,
        "polyethylene": 0.95,
        "polyurethane": 1.2,
        "acetal": 1.41,
        "abs": 1.05,
        "polycarbonate": 1.2,
        "rubber": 1.2,
        "carbon fibre": 1.6,
        "glass fibre": 1.9,
        "plywood": 0.68,
        "pine": 0.5,
        "oak": 0.7,
        "glass": 2.5,
    }
)
