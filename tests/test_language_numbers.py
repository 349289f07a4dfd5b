"""Numbers and quantities in words: the arithmetic of speech.

Sources. Unit sizes: the international foot (0.3048 m), yard, fathom (6 ft), statute and nautical
mile (1852 m) as in NIST SP 811, appendix B (MEMORY), computed again by scipy.constants. Number
words: the num2words library. How people say numbers: common practice of speech.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words
from scipy import constants

from coach.language.numbers import number_at, numeral
from coach.language.quantities import Quantity, quantity_at, rate_at
from coach.language.tokens import read_words


def measured(text: str, kind: str) -> Quantity | None:
    return quantity_at(read_words(text, {}), 0, kind=kind)


def whole(text: str, kind: str) -> float | None:
    """The value, if the quantity is all of the text."""
    found = measured(text, kind)
    return found.value if found is not None and found.end == len(read_words(text, {}).words) else None


def said(number: float) -> tuple[str, ...]:
    return read_words(num2words(number).replace(",", ""), {}).words


# num2words writes the words, the reader must give the number back.


def test_every_whole_number_below_ten_thousand_is_read_back_from_its_words() -> None:
    for number in range(10_000):
        found = number_at(said(number), 0)
        assert found is not None
        assert (found.value, found.end) == (number, len(said(number)))


@given(st.integers(0, 9999), st.integers(1, 99))
def test_decimals_in_words_are_read_back(whole_part: int, hundredths: int) -> None:
    number = float(f"{whole_part}.{hundredths:02}")
    found = number_at(said(number), 0)
    assert found is not None
    assert found.value == pytest.approx(number, abs=1e-9)


# Common practice of speech.
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("seven and three quarters", 7.75), ("eleven point eight", 11.8), ("point five", 0.5),
        ("two dozen", 24),
        ("half a dozen", 6), ("a couple", 2), ("a dozen", 12), ("forty-four", 44), ("forty four", 44),
        ("a hundred and ten", 110), ("twenty two hundred", 2200), ("3 1/2", 3.5), ("3-1/2", 3.5), ("7½", 7.5),
        ("six and a half", 6.5), ("three and a third", 10 / 3), ("minus two", -2), ("zero point two", 0.2),
        ("eleven oh", 11), ("one", 1),
    ],
)  # fmt: skip
def test_numbers_as_people_say_them(text: str, value: float) -> None:
    found = number_at(read_words(text, {}).words, 0)
    assert found is not None
    assert found.value == pytest.approx(value, abs=1e-9)


# Common practice: a comma before one or two digits is a decimal comma, before three it parts thousands.
@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("8,5", 8.5),
        ("8.5", 8.5),
        ("1,200", 1200),
        ("12,345,678", 12345678),
        (".5", 0.5),
        ("15,25", 15.25),
        ("007", 7),
    ],
)
def test_digits_with_points_and_commas(word: str, value: float) -> None:
    assert numeral(word) == value


@pytest.mark.parametrize("word", ["1e999", "1.2.3", "9999999999999999", "", "x", "5x", "0x10", "٣", "½"])
def test_what_is_no_plain_number_is_none(word: str) -> None:
    assert numeral(word) is None


# Common practice of speech, in feet.
@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("6'4\"", 6 + 4 / 12), ("6 ft 4", 6 + 4 / 12), ("two foot six", 2.5), ("a fathom and a half", 9.0),
        ("14 feet 9 inches", 14.75), ("eighteen inches", 1.5), ("a foot and a half", 1.5),
        ("half a fathom", 3.0),
        ("a dozen feet", 12.0), ("six and a half feet", 6.5), ("a foot and three quarters", 1.75),
        ("8,5", 8.5),
        ("seven and three quarters", 7.75), ("11.5'", 11.5), ("5-foot", 5.0), ("a yard", 3.0),
        ("6’ 4”", 6 + 4 / 12),
        ("half a foot", 0.5), ("12ish", 12.0), ("about 11", 11.0), ("11 or so", 11.0), ("~9 ft", 9.0),
    ],
)  # fmt: skip
def test_lengths_as_people_say_them(text: str, feet: float) -> None:
    assert whole(text, "length") == pytest.approx(feet, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "mean"),
    [
        ("between nine and ten", 9.5),
        ("9-10", 9.5),
        ("9 to 10 ft", 9.5),
        ("five or six feet", 5.5),
        ("a foot or two", 1.5),
    ],
)
def test_of_a_range_the_mean_is_taken_and_noted(text: str, mean: float) -> None:
    found = measured(text, "length")
    assert found is not None
    assert (found.value, found.how) == (pytest.approx(mean), "range")


@pytest.mark.parametrize(
    ("text", "limit"),
    [("no more than 4", 4), ("just under 3", 3), ("not quite eight", 8), ("up to 9", 9), ("3 at most", 3)],
)
def test_of_a_bound_the_limit_is_taken_and_noted(text: str, limit: float) -> None:
    found = measured(text, "length")
    assert found is not None
    assert (found.value, found.how) == (limit, "bound")


# scipy.constants holds the same exact definitions, independently written down.
@pytest.mark.parametrize(
    ("unit", "kind", "size"),
    [
        ("metres", "length", 1 / constants.foot), ("m", "length", 1 / constants.foot),
        ("cm", "length", 0.01 / constants.foot),
        ("inches", "length", constants.inch / constants.foot),
        ("yards", "length", constants.yard / constants.foot),
        ("fathoms", "length", 6.0), ("ft", "length", 1.0), ("km/h", "speed", constants.kmh / constants.knot),
        ("mph", "speed", constants.mph / constants.knot), ("m/s", "speed", 1 / constants.knot),
        ("feet per second", "speed", constants.foot / constants.knot), ("knots", "speed", 1.0),
        ("hours", "minutes", 60.0),
        ("min", "minutes", 1.0), ("volts", "volts", 1.0), ("v", "volts", 1.0),
    ],
)  # fmt: skip
@given(tenths=st.integers(0, 9999))
def test_every_unit_has_its_exact_size(unit: str, kind: str, size: float, tenths: int) -> None:
    assert whole(f"{tenths / 10} {unit}", kind) == pytest.approx(tenths / 10 * size, rel=1e-12)


@given(st.integers(-300, 600))
def test_celsius_becomes_fahrenheit_as_scipy_converts_it(tenths: int) -> None:
    celsius = tenths / 10
    expected = constants.convert_temperature(celsius, "Celsius", "Fahrenheit")
    assert whole(f"{celsius} °C", "temp") == pytest.approx(expected, abs=1e-9)
    assert whole(f"{celsius} degrees celsius", "temp") == pytest.approx(expected, abs=1e-9)


def test_a_difference_of_temperatures_has_no_zero_point() -> None:
    assert whole("five degrees C", "degrees") == pytest.approx(9.0)
    assert whole("seven F", "degrees") == pytest.approx(7.0)


# Common practice of speech, in minutes.
@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("half an hour", 30), ("an hour and a half", 90), ("2h10", 130), ("an hour twenty", 80),
        ("1 hr 5 min", 65),
        ("three quarters of an hour", 45), ("a quarter of an hour", 15), ("2.5 hours", 150),
        ("two and a half hours", 150),
        ("a couple of hours", 120), ("an hour and forty minutes", 100), ("90", 90), ("20 m", 20),
        ("45 min to an hour", 52.5),
    ],
)  # fmt: skip
def test_durations_as_people_say_them(text: str, minutes: float) -> None:
    assert whole(text, "minutes") == pytest.approx(minutes)


# A count per time, worked by hand: 3 a minute are 30 in ten minutes.
@pytest.mark.parametrize(
    ("text", "per_ten"),
    [
        ("3 a minute", 30), ("two every five minutes", 4), ("one every ten minutes", 1),
        ("30 an hour", 5), ("5 per minute", 50),
        ("twenty in ten minutes", 20), ("five per ten minutes", 5), ("12 in the last 20 min", 6),
    ],
)  # fmt: skip
def test_rates_are_brought_to_ten_minutes(text: str, per_ten: float) -> None:
    found = rate_at(read_words(text, {}), 0, per_min=10.0)
    assert found is not None
    assert found.value == pytest.approx(per_ten)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("10 m/s", "length"), ("9 ft", "speed"), ("20 minutes", "length"), ("0/0", "length"),
        ("1e999", "length"), ("5/0", "length"),
        ("2.5", "count"), ("12 volts", "count"), ("", "length"), ("and a half", "length"),
        ("the one", "count"),
    ],
)  # fmt: skip
def test_another_unit_or_no_number_is_not_taken(text: str, kind: str) -> None:
    assert measured(text, kind) is None


FORMS = ("{n} ft", "{n}ft", "{n} feet", "about {n} feet", "{n}'", "{n} foot", "maybe {n} ft or so")


@given(st.integers(1, 400), st.sampled_from(FORMS))
def test_a_length_in_any_form_is_read_back(quarters: int, form: str) -> None:
    assert whole(form.format(n=f"{quarters / 4:g}"), "length") == quarters / 4


@given(st.integers(1, 60), st.integers(1, 11))
def test_feet_and_inches_in_any_form_are_read_back(feet: int, inches: int) -> None:
    for text in (
        f"{feet}'{inches}\"",
        f"{feet} ft {inches}",
        f"{feet} feet {inches} inches",
        f"{feet}ft {inches}in",
    ):
        assert whole(text, "length") == pytest.approx(feet + inches / 12)
