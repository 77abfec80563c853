"""Published science on plain floats and arrays. Mass fractions run from 0 to 1, temperatures are in °C."""

__all__ = ["density", "freezing"]
