"""Every calculator matters to the consultation: taken away, something comes out otherwise."""

import pytest
from calculators import KINDS, SCENES, TAKEN, broken, forget, scene, situations, without

from coach.model import Rulebook


def test_every_kind_of_figure_is_tried() -> None:
    assert set(TAKEN) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_without_this_calculator_a_situation_or_a_scene_comes_out_otherwise(
    kind: str, shipped: Rulebook
) -> None:
    forget()
    before = {name: scene(facts, shipped) for name, facts in SCENES.items()}
    with without(kind):
        first = next(broken(shipped, situations(shipped)), None)
        changed = [name for name, facts in SCENES.items() if scene(facts, shipped) != before[name]]
    assert first or changed


def test_with_all_calculators_every_situation_comes_out_as_it_says(shipped: Rulebook) -> None:
    forget()
    assert not list(broken(shipped, situations(shipped)))
