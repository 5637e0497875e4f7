"""Surfaces that rooms really have: printed absorption and build-ups, each with its source."""
