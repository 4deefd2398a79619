"""Assess samples anew after new results or changed limits; keep each box's current condition."""
