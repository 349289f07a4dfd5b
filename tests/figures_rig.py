"""The rig of the rules folder, for the tests of the calculators."""

from coach.figures.command import numbers_file, read_rig

RIG = read_rig(numbers_file())
