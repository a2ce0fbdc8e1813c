"""Stepfield: write what a surgical team does, and have it proved in every order the team could do it."""

__version__ = "0.1.0"
