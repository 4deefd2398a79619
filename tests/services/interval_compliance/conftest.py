"""An empty register with one excavator, beside the fleets of the folder above."""

from tests.services.register.conftest import either_place, either_register, place, register

__all__ = ["either_place", "either_register", "place", "register"]
