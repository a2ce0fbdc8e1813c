"""Measures the engine: against its own growth, and against a general-purpose model checker on the same models.

Run it with ``make bench``. Nothing here is part of the program, and no test asserts a time.
"""
