"""The rule base: from the captain's folder of TOML files to a checked `Rulebook`."""

from coach.rulebook.reading import clauses, default_folder, load

__all__ = ["clauses", "default_folder", "load"]
