"""Items about pictures: the coach's own drawing of a set, and what is wrong in it or which lamp is off."""

from __future__ import annotations

from coach.rulebook.situations import MOMENT
from coach.school.blame import cause_says, reasons, slips_of, why_not
from coach.school.keys import of
from coach.school.kitchen import Kitchen
from coach.school.parts import NOTHING, Item, Scene, Slip
from coach.school.sums import drawn, off_by
from coach.wording import quantity

_LAMPS = {"left": ("left",), "right": ("right",), "both": ("left", "right"), "neither": ()}
_HARD = 0.5


def scene(drawn_scene: Scene, kitchen: Kitchen) -> Item | None:
    """The item about a scene."""
    return (_fault if drawn_scene.ask == "fault" else _lamp)(drawn_scene, kitchen)


def _fault(scene: Scene, kitchen: Kitchen) -> Item | None:
    found = kitchen.bench.assessed(scene.facts)
    right = (*found.named, NOTHING)[0]
    wrong = {
        cause: (cause_says(cause, kitchen), why_not(slip, cause, found, kitchen), slip)
        for cause, slip in slips_of(scene.facts, found, kitchen).items()
    }
    because = reasons(found, kitchen)
    return kitchen.item(
        f"scene/{scene.id}",
        cause_says(right, kitchen),
        wrong,
        topic=scene.topic,
        ask=kitchen.text["ask_picture"],
        told=kitchen.told(scene.facts, leave=drawn(scene.facts, scene.kind)),
        right=right,
        because=because,
        rules=tuple(
            dict.fromkeys(
                kitchen.slips.name_of(e.rule)
                for cause in found.named[:1]
                for e in found.weighed[cause].evidence
                if e.counted and e.db > 0
            )
        ),
        judge="wrong",
        facts=scene.facts,
        picture=scene.kind,
        hardness=_HARD,
    )


def _lamp(scene: Scene, kitchen: Kitchen) -> Item | None:
    right = next(iter(of("lamp", scene.facts, scene.kind, (), kitchen.bench)))
    text = {name: kitchen.text[f"lamp_{name}"] for name in _LAMPS}
    offs = _offs(scene, kitchen)
    wrong = {
        name: (text[name], _why(name, right, offs, kitchen), Slip("other"))
        for name in _LAMPS
        if name != right
    }
    because = tuple(_line(lamp, offs, kitchen) for lamp in ("left", "right"))
    return kitchen.item(
        f"scene/{scene.id}",
        text[right],
        wrong,
        think=because[:1],
        topic=scene.topic,
        ask=kitchen.text["ask_lamp"],
        told=kitchen.told(scene.facts, leave=drawn(scene.facts, scene.kind)),
        right=right,
        because=because,
        rules=(),
        judge="lamp",
        about=scene.kind,
        facts=scene.facts,
        picture=scene.kind,
        hardness=_HARD,
    )


def _offs(scene: Scene, kitchen: Kitchen) -> dict[str, float]:
    known = kitchen.tools.figures.work_out(scene.facts, now=MOMENT)
    return {lamp: off_by(known, lamp, from_side=scene.kind == "side") for lamp in ("left", "right")}


def _line(lamp: str, offs: dict[str, float], kitchen: Kitchen) -> str:
    slack = kitchen.tools.figures.rig.reclip_slack_ft
    name = "lamp_off" if abs(offs[lamp]) >= slack else "lamp_in_line"
    return (
        kitchen.text[name]
        .replace("{lamp}", kitchen.text[f"lamp_{lamp}"])
        .replace("{off}", quantity(abs(offs[lamp]), "ft"))
        .replace("{slack}", quantity(slack, "ft"))
    )


def _why(name: str, right: str, offs: dict[str, float], kitchen: Kitchen) -> str:
    """The lamps about which the answer is wrong."""
    differ = [lamp for lamp in ("left", "right") if (lamp in _LAMPS[name]) != (lamp in _LAMPS[right])]
    return " ".join(_line(lamp, offs, kitchen) for lamp in differ)
