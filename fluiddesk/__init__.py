"""Carries an in-service oil and coolant sampling programme from what is due to what was found."""

__version__ = "0.1.0"
