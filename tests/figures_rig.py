"""The rig of the rules folder, for the tests of the calculators.

Imported by each of them: it also keeps a slow machine from failing a property by its clock.
"""

from hypothesis import settings

from coach.figures.command import numbers_file, read_rig

settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")

RIG = read_rig(numbers_file())
