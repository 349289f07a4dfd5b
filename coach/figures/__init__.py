"""The calculators: every figure of a night on the water, by pure functions.

Each module is arithmetic alone: no clock, no network, no files but the shipped tables. Numbers of
the trade come in as a `Rig`, filled from the rules folder. `ephem` is imported by the sky only.
"""
