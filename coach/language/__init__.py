"""The language of boaters: words in, facts out, by a closed grammar and words kept as data."""

from coach.language.build import build_lexicon
from coach.language.lexicon import Lexicon, WordFault, WordFaults
from coach.language.read import Reading, is_correction, read

__all__ = ["Lexicon", "Reading", "WordFault", "WordFaults", "build_lexicon", "is_correction", "read"]
