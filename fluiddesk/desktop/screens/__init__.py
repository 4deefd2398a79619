"""The pages of the window, one a module; no page knows another."""
