"""Sentences about a placement study, made from its numbers, names and enumerations where it is shown."""
