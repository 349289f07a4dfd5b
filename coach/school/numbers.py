"""Items about numbers: sums of the calculators, with other numbers each time, and what a misreading gives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from coach.clearing import minutes_for, quantity_min
from coach.figures.rig import Rig
from coach.model import Scalar
from coach.rulebook.situations import MOMENT
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Choice, Drill, Item, Misread, Slip, Wanted
from coach.school.sums import SUMS, worked
from coach.school.told import filled, small
from coach.wording import Filler, quantity
from coach.worked_out import Figures

_PARTS = (0.5, 3.0, 0.25, 2.0, 6.0, 10.0, 20.0)
_TRIES = 40
_OWN_UNITS = {"h": " hours", "%": " %", "in 100": " in 100", "Ah": " Ah", "A": " A", "Ohm": " ohms"}
_HARD = 0.2

Numbers = dict[str, Scalar]


def number(drill: Drill, turn: int, kitchen: Kitchen) -> Item | None:
    """The drill with the numbers of this turn; the same turn always gives the same numbers."""
    for tried in range(_TRIES):
        given = _numbers(drill, turn, tried)
        item = _Sheet(drill, given, kitchen).item()
        if item is not None:
            return item
    return None


def _numbers(drill: Drill, turn: int, tried: int) -> Numbers:
    """Numbers for each thing that varies, the same for the same turn, others for the next."""
    made: Numbers = {}
    for name, (low, high, step) in drill.vary.items():
        count = round((high - low) / step) + 1
        stride = 1 + dice(drill.id, name, "stride") % max(1, count - 1)
        begin = dice(drill.id, name, *([tried] if tried else []))
        made[name] = round(low + step * ((begin + turn * stride) % count), 6)
    return made | dict.fromkeys(drill.yes, True)


def said(value: float, unit: str) -> str:
    """A number with its unit as a learner would write it."""
    if unit in _OWN_UNITS:
        digits = 0 if unit in ("%", "in 100") or value >= 20 else 1
        return f"{value:.{digits}f}".removesuffix(".0") + _OWN_UNITS[unit]
    if unit == "min":
        return quantity_min(value)
    return quantity(value, unit)


class _Sheet:
    """One drill with its numbers."""

    def __init__(self, drill: Drill, given: Numbers, kitchen: Kitchen) -> None:
        self._drill, self._given, self._kitchen = drill, given, kitchen
        self._figures = kitchen.tools.figures

    def item(self) -> Item | None:
        """The item; None where these numbers do not make a question."""
        value = self._worked(self._given)
        if value is None or value <= 0:
            return None
        return self._banded(value) if self._drill.bands else self._typed(value)

    def _worked(
        self, given: Mapping[str, Scalar], *, gives: str | None = None, figures: Figures | None = None
    ) -> float | None:
        figures = figures or self._figures
        known = self._known(given, figures)
        rig: Rig = figures.rig
        return worked(gives or self._drill.gives, known, self._kitchen.book, rig)

    def _known(self, given: Mapping[str, Scalar], figures: Figures) -> dict[str, Scalar]:
        facts = {name: value for name, value in given.items() if name in self._kitchen.book.facts}
        return {**figures.work_out(facts, now=MOMENT), **given}

    # -- a number to type

    def _typed(self, value: float) -> Item | None:
        drill = self._drill
        within = max(drill.within, drill.share * value)
        wanted = Wanted(value, drill.unit, within, ())
        found = [(wrong, why) for wrong, why, _ in self._slips() if wrong > 0]
        slips = tuple(each for each in found if not wanted.is_right(each[0]))
        return self._item(value, "", (), replace(wanted, slips=slips)) if slips else None

    def _slips(self) -> Iterator[tuple[float, str, Slip]]:
        """What comes out of each misreading, with the sentence that tells it."""
        for misread in self._drill.slips:
            value = self._misread(misread)
            if value is not None:
                yield value, self._why(misread, value), Slip("other")

    def _misread(self, misread: Misread) -> float | None:
        given = dict(self._given)
        if misread.gave is not None:
            return self._worked(given, gives=misread.gave)
        if misread.number is not None:
            one, other = misread.number
            numbers = dict(self._kitchen.book.numbers)
            figures = Figures(self._kitchen.book.facts, {**numbers, one: numbers[other]})
            return self._worked(given, figures=figures)
        if misread.take is not None:
            one, other = misread.take
            known = self._known(given, self._figures)
            return self._worked({**given, one: known[other]}) if other in known else None
        if misread.as_no is not None:
            return self._worked({**given, misread.as_no: False})
        return self._worked(self._times(misread.part or 1.0))

    def _times(self, part: float) -> Numbers:
        """All counts so many times as large."""
        facts = self._kitchen.book.facts
        return {
            name: float(round(float(value) * part))
            if name in facts and facts[name].unit == "count"
            else value
            for name, value in self._given.items()
        }

    def _why(self, misread: Misread, value: float) -> str:
        text, given = self._kitchen.text, said(value, self._drill.unit)
        if misread.gave is not None:
            return filled(text["slip_gave"], given=given, figure=self._says(misread.gave))
        if misread.number is not None:
            one, other = misread.number
            values = {name: quantity(self._kitchen.book.numbers[name], "ft") for name in misread.number}
            names = self._kitchen.school.numbers
            slots = {
                "one": names[one],
                "other": names[other],
                "one_value": values[one],
                "other_value": values[other],
            }
            return filled(text["slip_number"], given=given, **slots)
        if misread.take is not None:
            one, other = misread.take
            return filled(text["slip_take"], given=given, one=self._says(one), other=self._says(other))
        if misread.as_no is not None:
            return filled(text["slip_as_no"], given=given, says=self._says(misread.as_no))
        return filled(text["slip_part"], times=_times_words(misread.part or 1.0))

    def _says(self, name: str) -> str:
        if name in SUMS:
            return SUMS[name].says
        if name in self._drill.inputs:
            return self._drill.inputs[name].says
        return self._kitchen.book.facts[name].says

    # -- bands to choose from

    def _banded(self, value: float) -> Item | None:
        """Bands instead of a number; every wrong one must come out of some misreading."""
        right = self._band(value)
        wrong: dict[int, tuple[str, Slip]] = {}
        auto = tuple(Misread(part=part) for part in _PARTS)
        for misread in (*self._drill.slips, *auto):
            if len(wrong) == len(self._drill.bands) - 1:
                break
            other = self._misread(misread)
            band = None if other is None else self._band(other)
            if band is not None and band != right and band not in wrong:
                why = self._why(misread, other or 0.0)
                if why not in {told for told, _ in wrong.values()}:
                    wrong[band] = (why, Slip("other", value=other))
        if len(wrong) < len(self._drill.bands) - 1:
            return None
        choices = tuple(
            Choice(str(band), says, *(wrong[band] if band != right else ("", None)))
            for band, says in enumerate(self._drill.band_says)
        )
        return self._item(value, str(right), choices, None)

    def _band(self, value: float) -> int:
        return next(place for place, end in enumerate(self._drill.bands) if value < end)

    # -- both

    def _item(self, value: float, right: str, choices: tuple[Choice, ...], wanted: Wanted | None) -> Item:
        drill, answer = self._drill, said(value, self._drill.unit)
        ask, work, hint = (self._filled(text, answer) for text in (drill.ask, drill.work, drill.hint))
        hints = self._kitchen.hints((), (hint,), choices, work)
        return Item(
            id=f"number/{drill.id}",
            topic=drill.topic,
            ask=ask,
            told=(),
            right=right or answer,
            choices=choices,
            because=(work,),
            rules=drill.rules,
            hints=hints,
            judge="sum",
            about=right,
            facts=self._given,
            wanted=wanted,
            hardness=_HARD,
        )

    def _filled(self, text: str, answer: str) -> str:
        known = self._known(self._given, self._figures)
        inputs = {name: said(float(known[name]), each.unit) for name, each in self._drill.inputs.items()}
        steps, rates = _clearing(known, self._kitchen)
        text = filled(text, **inputs, answer=answer, steps=steps, rates=rates)
        return Filler(self._kitchen.book, known).fill(text) or text


def _clearing(known: Mapping[str, Scalar], kitchen: Kitchen) -> tuple[str, str]:
    """The steps of clearing the water with the minutes for what is out, and with the minutes for one each."""
    steps = kitchen.book.clearing
    whole = "; ".join(f"{small(step.says)} {minutes_for(step, known):g}" for step in steps)
    each = "; ".join(
        f"{small(step.says)} {step.minutes:g}" + (" each" if step.times is not None else "") for step in steps
    )
    return whole, each


def _times_words(part: float) -> str:
    return {0.25: "a quarter", 0.5: "half"}.get(part, f"{part:g} times")


def again(item: Item, drill: Drill, kitchen: Kitchen) -> float | None:
    """The answer worked out anew from the item's own numbers, for checking."""
    return _Sheet(drill, dict(item.facts), kitchen)._worked(item.facts)
