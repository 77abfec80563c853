"""Panels, one module a topic; each is opened by its `panel`."""
