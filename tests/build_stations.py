"""Rebuild the station data of the tide and current calculators. Run by hand, once a year.

    npm pack @neaps/tide-database@0.10.20260924 && npm install ./neaps-tide-database-0.10.20260924.tgz
    python tests/build_stations.py node_modules/@neaps/tide-database coach/figures/data

Keeps stations of the U.S. South (North Carolina to Texas) whose own licence field says "public
domain" and whose source is NOAA, and the reference stations that they need. Needs Node.js, only here.
"""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

STATES = ("NC", "SC", "GA", "FL", "AL", "MS", "LA", "TX")

DUMP = """
import { stations } from %s;
for (const s of stations) {
  if (s.country_code !== "US" || s.license?.type !== "public domain") continue;
  console.log(JSON.stringify({ id: s.id, name: s.name, kind: s.kind, state: s.region_code ?? "",
    lat: s.latitude, lon: s.longitude, zone: s.timezone, source: s.source.name, licence: s.license,
    datum: s.chart_datum ?? "",
    attribution: s.attribution, datums: s.datums, offsets: s.offsets ?? null, current: s.current ?? null,
    harmonics: s.type === "reference" ? s.harmonic_constituents : [] }));
}
"""

ABOUT = {
    "source": "U.S. National Oceanic and Atmospheric Administration, CO-OPS",
    "licence": "public domain (per-station licence field of the package; nothing else was kept)",
    "through": "npm package @neaps/tide-database 0.10.20260924",
}


def dumped(package: Path) -> list[dict[str, Any]]:
    """All public-domain U.S. records of the package."""
    entry = json.dumps((package / "dist/node/index.js").resolve().as_uri())
    words = ["node", "--input-type=module", "-e", DUMP % entry]
    lines = subprocess.run(words, check=True, capture_output=True, text=True).stdout.splitlines()
    records = [json.loads(line) for line in lines]
    return [record for record in records if "Oceanic and Atmospheric" in record["source"]]


def _id(full: str) -> str:
    return full.removeprefix("noaa/")


def _place(record: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": record["name"],
        "state": record["state"].removeprefix("US-"),
        "lat": round(record["lat"], 4),
        "lon": round(record["lon"], 4),
        "zone": record["zone"],
    }


def _harmonics(record: dict[str, Any]) -> dict[str, list[float]]:
    return {
        part["name"]: [round(part["amplitude"], 4), round(part["phase"], 1) % 360]
        for part in record["harmonics"]
        if part["amplitude"] > 0
    }


def tide(record: dict[str, Any]) -> dict[str, Any]:
    """A tide station: constants in metres about MSL, or its offsets from a reference station."""
    if record["datum"] != "MLLW":
        raise ValueError(f"{record['id']}: datum {record['datum']}")
    if not record["offsets"]:
        z0 = round(record["datums"]["MSL"] - record["datums"]["MLLW"], 4)
        return {**_place(record), "mean_m": z0, "m": _harmonics(record)}
    offsets = record["offsets"]
    if offsets["height"]["type"] != "ratio":
        raise ValueError(f"{record['id']}: heights by {offsets['height']['type']}")
    return {
        **_place(record),
        "reference": _id(offsets["reference"]),
        "high": [offsets["time"]["high"], round(offsets["height"]["high"], 4)],
        "low": [offsets["time"]["low"], round(offsets["height"]["low"], 4)],
    }


def current(record: dict[str, Any]) -> dict[str, Any]:
    """A current station: constants in knots along its flood direction, or its offsets."""
    about = record["current"]
    row = {**_place(record), "flood_deg": about.get("flood_direction"), "ebb_deg": about.get("ebb_direction")}
    offsets = about.get("offsets")
    if not offsets:
        return {**row, "mean_kn": round(about.get("mean_flow", 0.0), 4), "kn": _harmonics(record)}
    kept = ("slack_before_flood", "slack_before_ebb", "flood_time", "ebb_time")
    return {
        **row,
        "reference": _id(offsets["reference"]),
        **{name: offsets.get(name, 0) for name in kept},
        "flood_x": round(offsets.get("flood_speed_ratio", 0.0), 4),
        "ebb_x": round(offsets.get("ebb_speed_ratio", 0.0), 4),
    }


def packed(records: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    """The stations of one kind in the South with the references that they need."""
    every = {_id(record["id"]): record for record in records if record["kind"] == kind}
    kept = {id_ for id_, record in every.items() if record["state"].removeprefix("US-") in STATES}
    pack = tide if kind == "tide" else current
    rows = {id_: pack(every[id_]) for id_ in kept}
    for id_ in {row["reference"] for row in rows.values() if "reference" in row} - set(rows):
        rows[id_] = pack(every[id_])
    return {"about": ABOUT, "stations": dict(sorted(rows.items()))}


def write(data: dict[str, Any], file: Path) -> None:
    """Write compact JSON, gzipped without a date so that the same data is the same file."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    file.write_bytes(gzip.compress(text.encode(), 9, mtime=0))
    print(file, len(data["stations"]), "stations,", len(text), "characters,", file.stat().st_size, "bytes")


def main(package: str, folder: str) -> None:
    """Rebuild both files."""
    records = dumped(Path(package))
    write(packed(records, "tide"), Path(folder) / "tides.json.gz")
    write(packed(records, "current"), Path(folder) / "currents.json.gz")


if __name__ == "__main__":
    main(*sys.argv[1:])
