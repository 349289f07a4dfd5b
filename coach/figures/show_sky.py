"""`coach figure sky | colour`: the light of the night, and of the lamps by the kind of water."""

from __future__ import annotations

from datetime import date, datetime

from coach.figures.colour import KD_PER_M, light_left, water_type_of
from coach.figures.light import circle_of_secchi
from coach.figures.options import Answer, Figure, Given, Option, amount, day, stamp, word, zone
from coach.figures.rig import Rig
from coach.figures.sky import moon_share_word, sky_day


def _hm(at: datetime | None) -> str:
    return f"{at:%H:%M}" if at else "not that day"


def _sky(given: Given, rig: Rig) -> Answer:
    on: date = given["on"]
    found = sky_day(given["lat"], given["lon"], on=on, zone=given["tz"], dark_sun_deg=rig.dark_sun_deg)
    times = {name: value for name, value in found._asdict().items() if name != "moon_lit"}
    values = {name: value and stamp(value) for name, value in times.items()}
    lines = (
        f"{on:%a %d %b %Y}, clock of {given['tz']}:",
        f"sunset {_hm(found.sunset)}, dark from {_hm(found.dusk)}; light from {_hm(found.dawn)},"
        f" sunrise {_hm(found.sunrise)}.",
        f"Moonrise {_hm(found.moonrise)}, moonset {_hm(found.moonset)};"
        f" {found.moon_lit:.0%} lit at midnight ({moon_share_word(found.moon_lit, rig)}).",
        f"Dark means the sun {-rig.dark_sun_deg:g} degrees down.",
    )
    return Answer({**values, "moon_lit": found.moon_lit}, lines)


def _colour(given: Given, rig: Rig) -> Answer:
    secchi = given["secchi_ft"]
    kind = given["water_type"] or (secchi and water_type_of(secchi, rig))
    if kind is None:
        raise ValueError("--secchi-ft, --water-type: got neither; allowed one of them")
    default = circle_of_secchi(secchi, rig).value / 2 if secchi else rig.circle_clear_ft / 2
    path = default if given["path_ft"] is None else given["path_ft"]
    left = light_left(kind, path, rig)
    better = "green" if left.green > left.white else "white"
    gain = max(left) / min(left) - 1
    lines = (
        f"In water like Jerlov's type {kind}, after {path:.1f} ft:"
        f" {left.green:.0%} of green light is left, {left.white:.0%} of white.",
        f"Here {better} keeps {gain:.0%} more; other water can turn that round.",
        "Spectra and water type are estimates.",
    )
    return Answer(
        {"water_type": kind, "path_ft": path, "green_left": left.green, "white_left": left.white}, lines
    )


FIGURES = {
    "sky": Figure(
        "sun, darkness and moon on one day at a place",
        (
            Option("--lat", amount("lat_deg"), "latitude, north", needed=True),
            Option("--lon", amount("lon_deg"), "longitude, east (so negative in America)", needed=True),
            Option("--on", day, "the day, like 2027-02-11", needed=True),
            Option("--tz", zone, "time zone, like America/New_York", needed=True),
        ),
        _sky,
    ),
    "colour": Figure(
        "green and white lamp light left after some feet of this water",
        (
            Option("--secchi-ft", amount("secchi_ft"), "depth at which a white disc is lost"),
            Option("--water-type", word(*KD_PER_M), "or Jerlov's type of the water"),
            Option(
                "--path-ft", amount("path_ft"), "way through the water (default: the lit circle's radius)"
            ),
        ),
        _colour,
    ),
}
