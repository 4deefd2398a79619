"""Every test of fluiddesk; `python3 -m tests` makes ready what they need and runs them."""
