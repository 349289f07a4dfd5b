"""Green and white light by the kind of water."""

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.colour import KD_PER_M, kd_per_m, light_left, water_type_of
from coach.figures.units import feet


@pytest.mark.parametrize(
    ("water_type", "nm", "kd"),
    [("III", 450, 0.135), ("1C", 525, 0.130), ("5C", 600, 0.400), ("7C", 475, 0.710), ("9C", 575, 0.580)],
)
def test_attenuation_is_that_of_jerlovs_table(water_type: str, nm: float, kd: float) -> None:
    # Jerlov, Marine Optics, 1976, table XXVII (READ in the jerlov package, rows marked as printed)
    assert kd_per_m(water_type, nm) == pytest.approx(kd)


def test_between_the_tables_values_attenuation_goes_straight() -> None:
    assert kd_per_m("1C", 462.5) == pytest.approx((0.250 + 0.170) / 2)
    assert kd_per_m("1C", 420) == 0.250
    assert kd_per_m("1C", 690) == 0.450


@pytest.mark.parametrize(
    ("water_type", "green", "white"),
    [
        ("1C", 0.772, 0.713),
        ("3C", 0.669, 0.627),
        ("5C", 0.531, 0.504),
        ("7C", 0.370, 0.375),
        ("9C", 0.215, 0.261),
    ],
)
def test_green_and_white_left_after_two_metres(water_type: str, green: float, white: float) -> None:
    # Jerlov's table with the same assumed spectra, computed outside this program; tolerance .005
    assert light_left(water_type, feet(2), RIG) == pytest.approx((green, white), abs=0.005)


def test_green_does_not_always_reach_farther() -> None:
    # the same sums: green gains in clear coastal water and loses in the murkiest
    clear, murky = (light_left(kind, feet(2), RIG) for kind in ("1C", "9C"))
    assert clear.green > clear.white
    assert murky.green < murky.white


@given(kind=st.sampled_from(sorted(KD_PER_M)), path_ft=st.floats(0, 50), more_ft=st.floats(0, 10))
def test_more_water_never_leaves_more_light(kind: str, path_ft: float, more_ft: float) -> None:
    near, far = light_left(kind, path_ft, RIG), light_left(kind, path_ft + more_ft, RIG)
    assert 0 <= far.green <= near.green + 1e-12 <= 1 + 1e-9
    assert 0 <= far.white <= near.white + 1e-12 <= 1 + 1e-9


@given(one_ft=st.floats(0.2, 60), other_ft=st.floats(0.2, 60))
def test_clearer_water_is_never_a_murkier_type(one_ft: float, other_ft: float) -> None:
    low, high = sorted((one_ft, other_ft))
    order = list(KD_PER_M)
    assert order.index(water_type_of(high, RIG)) <= order.index(water_type_of(low, RIG))


@pytest.mark.parametrize(("kind", "nm"), [("2C", 500), ("1C", 300), ("1C", float("nan"))])
def test_another_water_or_light_is_refused(kind: str, nm: float) -> None:
    with pytest.raises(ValueError, match="allowed"):
        kd_per_m(kind, nm)
