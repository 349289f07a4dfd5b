"""From what a person typed to plain lower-case words and signs, with their places in the text."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

LIMIT = 1000
"""Longest text that is read, in characters; the rest is cut off and said to be."""

MOST_WORDS = 250
"""Most words and signs that are read of it; a thousand characters of speech hold about two hundred."""

_SAME_SIGN = str.maketrans(
    {
        **dict.fromkeys("’‘´`′ʼ＇ʹ", "'"),
        **dict.fromkeys("“”„″〃＂", '"'),
        **dict.fromkeys("–−‒‑‐", "-"),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("👍✅👌", "\x01"),
        **dict.fromkeys("👎❌", "\x02"),
        **dict.fromkeys("🤷", "\x03"),
    }
)
_SIGN_WORDS = {"\x01": " yes ", "\x02": " no ", "\x03": " dunno "}
_VULGAR = re.compile(r"(?<=\d)\s*(?=[¼-¾⅐-⅞])")
_NO_LONGER = re.compile(r"\bno longer\b", re.IGNORECASE)
_MERIDIEM = re.compile(r"(?<![^\W\d_])([ap])\.\s?m\.?(?![^\W\d_])", re.IGNORECASE)
_SHORT_AND = re.compile(
    r"(?<=[^\W_]\s)'?n'?(?=\s[^\W\d_])|(?<=[0-9])'?n'?(?=\s(?:a\s)?(?:half|quarter)\b)", re.IGNORECASE
)
_WE_ARE = re.compile(
    r"(^|[.,;!?\n]\s*|\b(?:and|but|so|now|then|because|cause|cuz|if|that|think|guess|unless|when|while|where)\s+)"
    r"were\b(?!\s+(?:we|you|they|the|there|it|any|he|she|i|those|these|your|his|all the)\b)",
    re.IGNORECASE,
)
"""A "were" that opens a statement: "we're" without its sign."""
_ABBREVIATION = re.compile(
    r"\b(ft|in|min|mins|hrs?|kts?|kn|deg|approx|yds?)\.(?=\s+[^\W\d_A-Z])", re.IGNORECASE
)
_TOKEN = re.compile(
    r"(?P<ordinal>[0-9]+(?:st|nd|rd|th)(?![^\W\d_]))"
    r"|(?P<number>[0-9]+(?:[.,][0-9]+)*|(?<![0-9.])\.[0-9]+)"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<dots>\.{2,})"
    r"|(?P<sign>''|[,.;:!?\-—/%°'\"=~+&()\n])",
    re.IGNORECASE,
)
_ORDINALS = {"1st": "first", "2nd": "second", "3rd": "third", "4th": "fourth", "5th": "fifth"}
_WHOLE = {
    "can't": "can not", "cannot": "can not", "cant": "can not", "won't": "will not", "wont": "will not",
    "shan't": "shall not", "ain't": "is not", "aint": "is not", "let's": "let us", "lets": "let us",
    "dont": "do not", "doesnt": "does not", "didnt": "did not", "isnt": "is not", "arent": "are not",
    "wasnt": "was not", "werent": "were not", "havent": "have not", "hasnt": "has not", "hadnt": "had not",
    "couldnt": "could not", "wouldnt": "would not", "shouldnt": "should not", "im": "i am", "ive": "i have",
    "weve": "we have", "theyve": "they have", "youve": "you have", "theyre": "they are", "youre": "you are",
    "its": "it is", "it's": "it is", "theres": "there is", "thats": "that is", "whats": "what is",
    "hes": "he is", "shes": "she is", "o'clock": "oclock", "dunno": "dunno", "gonna": "going to",
    "gotta": "got to", "wanna": "want to", "kinda": "kind of", "sorta": "sort of", "lotta": "lot of",
    "coupla": "couple of", "y'all": "you all", "yall": "you all", "c'mon": "come on", "'em": "them",
    "metre": "meter", "metres": "meters", "centimetre": "centimeter", "centimetres": "centimeters",
    "millimetre": "millimeter", "millimetres": "millimeters", "kilometre": "kilometers",
    "kilometres": "kilometers", "kilometer": "kilometers",
}  # fmt: skip
_ENDINGS = {"n't": "not", "'s": "is", "'m": "am", "'re": "are", "'ve": "have", "'ll": "will", "'d": "had"}


@dataclass(frozen=True, slots=True)
class Text:
    """A text as words. `starts` and `ends` are places in `said`; expanded words have no width."""

    said: str
    words: tuple[str, ...]
    starts: tuple[int, ...]
    ends: tuple[int, ...]
    cut: bool

    def is_glued(self, index: int) -> bool:
        """True when no space stands between this word and the one before it."""
        return 0 < index < len(self.words) and self.starts[index] == self.ends[index - 1]

    def quote(self, start: int, end: int) -> str:
        """The text from word `start` to before word `end`, as typed."""
        if start >= end:
            return ""
        return self.said[self.starts[start] : self.ends[end - 1]].strip()


def read_words(said: str, spelling: Mapping[str, str]) -> Text:
    """Split a text into words and signs; never fails. `spelling` maps a word to its usual form(s)."""
    cut = len(said) > LIMIT
    plain = _plain(said[:LIMIT])
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    for found in _TOKEN.finditer(plain):
        if len(words) >= MOST_WORDS:
            cut = True
            break
        start, end = found.span()
        for part in _parts(found.group(), found.lastgroup or "", spelling=spelling):
            words.append(part)
            starts.append(start)
            ends.append(end)
            start = end
    return Text(plain, _lone_letters(words), tuple(starts), tuple(ends), cut)


def _is_and(words: list[str], at: int) -> bool:
    """ "An" before a consonant is an "and" whose end was not typed: "all night an the boys over there"."""
    after = words[at + 1] if at + 1 < len(words) else ""
    return words[at] == "an" and after.isalpha() and after[0] not in "aeiouh"


def _lone_letters(words: list[str]) -> tuple[str, ...]:
    """The letters that stand for words: "L 3 R 4" are sides, "lamps r lit" is a verb."""
    if "an" in words:
        words = ["and" if _is_and(words, at) else word for at, word in enumerate(words)]
    if "r" not in words:
        return tuple(words)
    if "l" in words:
        return tuple({"l": "left", "r": "right"}.get(word, word) for word in words)
    return tuple("are" if _is_are(words, at) else word for at, word in enumerate(words))


def _is_are(words: list[str], at: int) -> bool:
    """ "Lamps r lit": a lone letter between two words."""
    is_inside = 0 < at < len(words) - 1
    return words[at] == "r" and is_inside and words[at - 1].isalpha() and words[at + 1].isalpha()


def plain_words(said: str, spelling: Mapping[str, str]) -> tuple[str, ...]:
    """The words of a short phrase, in the same form as `read_words` gives them."""
    return read_words(said, spelling).words


def is_plain(word: str, spelling: Mapping[str, str]) -> bool:
    """True if a word of small letters stands for itself."""
    return word not in spelling and word not in _WHOLE


def _plain(said: str) -> str:
    said = _VULGAR.sub(" ", said.translate(_SAME_SIGN))
    said = unicodedata.normalize("NFKC", said).translate(_SAME_SIGN).replace("\u2044", "/")
    for sign, word in _SIGN_WORDS.items():
        said = said.replace(sign, word)
    said = _SHORT_AND.sub("and", _NO_LONGER.sub("not", said))
    said = _WE_ARE.sub(r"\1we are", said)
    said = _MERIDIEM.sub(r"\1m", said[:LIMIT])
    return _ABBREVIATION.sub(r"\1,", said)


def _parts(found: str, kind: str, *, spelling: Mapping[str, str]) -> tuple[str, ...]:
    if kind == "word":
        return _word_parts(found.lower(), spelling)
    if kind == "ordinal":
        found = found.lower()
        return (_ORDINALS.get(found, found),)
    if kind == "dots":
        return (",",)
    return ('"',) if found == "''" else (found,)


def _word_parts(word: str, spelling: Mapping[str, str]) -> tuple[str, ...]:
    whole = spelling.get(word) or _WHOLE.get(word)
    if whole is not None:
        return tuple(whole.split())
    if "'" in word:
        for ending, meaning in _ENDINGS.items():
            if word.endswith(ending) and len(word) > len(ending):
                stem = word[: -len(ending)]
                return (*(spelling.get(stem) or stem).split(), meaning)
        return (word.replace("'", ""),)
    return (word,)
