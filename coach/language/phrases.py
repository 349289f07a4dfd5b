"""The phrase language of a captain's word files, read into parts.

word            that word                       fade~       fade, fades, faded, fading
(a|b c)         one of these                    [word]      may be left out
@others         a word class                    ...         up to four words, within a clause
,               a comma may stand here, and where [and] or [but] may
{length}        a quantity or time: {length} {speed} {temp} {degrees} {volts} {minutes} {count}
                {number} {time} {per_10min}; {length!} wants its unit said; {length right} is a second one
a & b           under `clause` only: both stand in one clause, in any order, up to seven words apart
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from coach.language.apart import Apart
from coach.language.nodes import Either, Gap, Maybe, Named, Part, Pause, Row, Slot, Words
from coach.language.quantities import KINDS
from coach.language.tokens import is_plain, plain_words

_PIECE = re.compile(r"\.\.\.|[(\[][^()\[\]]*[)\]]|[()\[\]|,]|@\w+|\{[^{}]*\}|[^\s()\[\]|@{},]+|[@{}]")
_SLOT = re.compile(r"\{(?P<kind>[a-z_0-9]+)(?P<need>!?)(?:\s+(?P<name>[a-z]+))?\}")
_TOGETHER = re.compile(r"\s&\s")
_PER = re.compile(r"per_[0-9]{1,3}min")
_VOWELS = "aeiou"
DEEPEST = 12
_MOST_TOGETHER = 3
_JOINING = frozenset({"and", "but", "then", "while"})


_ARTICLE: tuple[Part, ...] = (Maybe(Words(frozenset({"the", "a", "an", "our", "my"}))),)


class PhraseFault(ValueError):  # noqa: N818  (a fault in a file, as WordFault is)
    """A phrase that cannot be read; the message says what is wrong and what to do."""


class PhraseReader:
    """Reads phrases into parts, sharing word classes, spelling and the captain's irregular forms."""

    def __init__(
        self, classes: Mapping[str, Part], *, spelling: Mapping[str, str], irregular: Mapping[str, list[str]]
    ) -> None:
        self._classes = classes
        self._spelling = spelling
        self._irregular = irregular
        self._plain: dict[str, tuple[Part, ...]] = {}
        self._flat: dict[str, Part] = {}
        self._option: dict[str, Part] = {}
        self._named: dict[str, Named] = {}
        self.words: set[str] = set()
        self.used_classes: set[str] = set()
        self.is_strict = False

    def read(self, phrase: str, *, may_be_empty: bool = False) -> Part:
        """One phrase as a part; only a word class may fit no word at all. Raises PhraseFault."""
        pieces = _PIECE.findall(phrase)
        part, at = self._row(pieces, 0, depth=0)
        if at < len(pieces):
            raise PhraseFault(f"'{pieces[at]}' closes nothing; take it out or open it before")
        if not may_be_empty and part.can_be_empty():
            raise PhraseFault("it would fit everywhere; give it at least one word that must be there")
        parts = part.parts if isinstance(part, Row) else (part,)
        if isinstance(parts[0], Gap) or isinstance(parts[-1], Gap):
            raise PhraseFault("'...' must stand between words; take it off the ends")
        return part

    def together(self, phrase: str) -> Part:
        """Parts that stand in one clause in any order: "lamp & (lean~|tilt~)". Raises PhraseFault."""
        parts = [self.read(one) for one in _TOGETHER.split(phrase)]
        if len(parts) > _MOST_TOGETHER:
            raise PhraseFault("too many '&'; name three things that stand together, or fewer")
        return parts[0] if len(parts) == 1 else Apart(tuple(parts), tuple(part.starts() for part in parts))

    def _row(self, pieces: list[str], at: int, *, depth: int) -> tuple[Part, int]:
        if depth > DEEPEST:
            raise PhraseFault("too many brackets within brackets; split it into two phrases")
        parts: list[Part] = []
        while at < len(pieces) and pieces[at] not in ("|", ")", "]"):
            piece = pieces[at]
            if piece in ("(", "["):
                part, at = self._options(pieces, at, depth=depth)
                parts.append(part)
                continue
            if piece[0] in "([":
                parts.append(self._flat.get(piece) or self._flat_group(piece))
            else:
                parts.extend(self._later(piece) if parts and at + 1 < len(pieces) else self._single(piece))
            at += 1
        return _in_a_row(tuple(parts)), at

    def _options(self, pieces: list[str], at: int, *, depth: int) -> tuple[Part, int]:
        closing = ")" if pieces[at] == "(" else "]"
        options: list[Part] = []
        while True:
            part, at = self._row(pieces, at + 1, depth=depth + 1)
            options.append(part)
            if at >= len(pieces):
                raise PhraseFault(f"a '{'(' if closing == ')' else '['}' is never closed; add '{closing}'")
            if pieces[at] != "|":
                break
        if pieces[at] != closing:
            raise PhraseFault(f"'{pieces[at]}' closes the wrong bracket; it should be '{closing}'")
        return _closed(_joined(options), closing), at + 1

    def _flat_group(self, piece: str) -> Part:
        """A group without groups inside; the same text is the same part everywhere."""
        closing = piece[-1]
        if (piece[0] == "(") != (closing == ")"):
            raise PhraseFault(
                f"'{closing}' closes the wrong bracket; it should be '{')' if piece[0] == '(' else ']'}'"
            )
        known = self._option
        options = [known.get(option) or self._flat_option(option) for option in piece[1:-1].split("|")]
        self._flat[piece] = _closed(_joined(options), closing)
        return self._flat[piece]

    def _flat_option(self, option: str) -> Part:
        parts: list[Part] = []
        pieces = option.split() if option.replace(" ", "").isalpha() else _PIECE.findall(option)
        for piece in pieces:
            parts.extend(self._later(piece) if parts and len(pieces) > 2 else self._single(piece))
        self._option[option] = _in_a_row(tuple(parts))
        return self._option[option]

    def _later(self, piece: str) -> tuple[Part, ...]:
        """A piece behind others, where people leave an article out: "net on pole"."""
        return (
            _ARTICLE
            if piece == "the" and not self.is_strict
            else self._plain.get(piece) or self._single(piece)
        )

    def _single(self, piece: str) -> tuple[Part, ...]:
        if piece == "...":
            return (Gap(),)
        if piece == ",":
            return (Pause(),)
        if piece.startswith("{"):
            return (_slot(piece),)
        if piece.startswith("@"):
            return (self._class(piece),)
        if piece in ("}", "@"):
            raise PhraseFault(f"a stray '{piece}'; take it out")
        if piece not in self._plain:
            self._plain[piece] = self._plain_parts(piece)
        return self._plain[piece]

    def _class(self, piece: str) -> Named:
        name = piece[1:]
        if name not in self._classes and name not in self._named:
            raise PhraseFault(f"no word class '{piece}'; name one of those under [class], or add it there")
        self.used_classes.add(name)
        return self._named.setdefault(name, Named(name, self._classes))

    def _plain_parts(self, piece: str) -> tuple[Part, ...]:
        if piece.isascii() and piece.isalpha() and piece.islower() and is_plain(piece, self._spelling):
            self.words.add(piece)
            return (Words(frozenset((piece,))),)
        bends = piece.endswith("~")
        words = [
            word
            for word in plain_words(piece.rstrip("~"), self._spelling)
            if word[0].isalnum() or word == "%"
        ]
        if not words:
            raise PhraseFault(f"'{piece}' has no letters or digits; write a word")
        sets = [frozenset({word}) for word in words]
        if bends:
            sets[-1] = frozenset(forms_of(words[-1], self._irregular))
        self.words.update(*sets)
        return tuple(Words(one) for one in sets)


def _joined(options: list[Part]) -> Part:
    """Several options as one part; single words are looked up together."""
    single = [option.words for option in options if isinstance(option, Words)]
    rest = [option for option in options if not isinstance(option, Words)]
    if single:
        rest.insert(0, Words(frozenset().union(*single)))
    return rest[0] if len(rest) == 1 else Either(tuple(rest))


def _in_a_row(parts: tuple[Part, ...]) -> Part:
    return parts[0] if len(parts) == 1 else Row(parts)


def _closed(whole: Part, closing: str) -> Part:
    if closing == ")":
        return whole
    return _with_pauses(whole) if _may_be_and(whole) else Maybe(whole)


def _may_be_and(part: Part) -> bool:
    """True where "and" or "but" may be left out: a comma may stand for it."""
    options = part.options if isinstance(part, Either) else (part,)
    return any(isinstance(one, Words) and not _JOINING.isdisjoint(one.words) for one in options)


def _with_pauses(part: Part) -> Part:
    return Row((Pause(), Maybe(part), Pause()))


def _slot(piece: str) -> Slot:
    found = _SLOT.fullmatch(piece)
    kind = found["kind"] if found else ""
    if not found or not (kind in KINDS or kind == "time" or _PER.fullmatch(kind)):
        kinds = ", ".join(sorted(KINDS | {"time", "per_10min"}))
        raise PhraseFault(
            f"'{piece}' is no quantity; use one of {kinds} in braces, with a second name if needed"
        )
    name = f"{kind} {found['name']}" if found["name"] else kind
    return Slot(kind, name, needs_unit=bool(found["need"]))


def forms_of(word: str, irregular: Mapping[str, list[str]]) -> set[str]:
    """A verb's or noun's regular forms ("drop": drops, dropped, dropping) and the irregular ones given."""
    if word in irregular:
        return {word, *irregular[word]}
    if word.endswith("e"):
        return {word, word + "s", word + "d", word[:-1] + "ing"}
    if word.endswith("y") and word[-2:-1] not in _VOWELS:
        return {word, word[:-1] + "ies", word[:-1] + "ied", word + "ing"}
    if word.endswith(("s", "x", "ch", "sh", "z")):
        return {word, word + "es", word + "ed", word + "ing"}
    stem = word + word[-1] if _doubles(word) else word
    return {word, word + "s", stem + "ed", stem + "ing"}


def _doubles(word: str) -> bool:
    """True for a short word of consonant, vowel, consonant: drop, dropped."""
    one_vowel = sum(letter in _VOWELS for letter in word) == 1
    return len(word) > 2 and one_vowel and word[-1] not in "aeiouwxyh" and word[-2] in _VOWELS
