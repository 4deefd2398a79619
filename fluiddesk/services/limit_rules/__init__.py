"""Limit sets: shown, drafted, checked, tried out on the fleet, derived from it, put in force."""

from fluiddesk.services.limit_rules.shown import (
    LimitLine,
    LimitsShown,
    bound_text,
    limits_shown,
    shown,
)

__all__ = ["LimitLine", "LimitsShown", "bound_text", "limits_shown", "shown"]
