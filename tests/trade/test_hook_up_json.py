import json
from collections.abc import Callable
from typing import Any

import pytest

from app.trade.hook_up import HookUp
from app.trade.hook_up_json import hook_up_from_json, hook_up_to_json
from tests.trade.session_hook_ups import insert_hook_up, parallel_hook_up, print_hook_up


@pytest.mark.parametrize("made", [print_hook_up, insert_hook_up, parallel_hook_up])
def test_a_hook_up_survives_the_round_trip_through_json(made: Callable[[], HookUp]) -> None:
    assert hook_up_from_json(json.loads(json.dumps(hook_up_to_json(made())))) == made()


def changed(**values: Any) -> dict[str, Any]:
    return hook_up_to_json(parallel_hook_up()) | values


def device(**values: Any) -> dict[str, Any]:
    whole = hook_up_to_json(parallel_hook_up())
    return whole | {"devices": [whole["devices"][0] | values]}


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (None, "exactly these keys"),
        (changed(colour="red"), "exactly these keys"),
        (changed(route="teleport"), "A route is one of"),
        (changed(devices={}), "must be a list"),
        (
            changed(links=[{"source": ["a", "b"], "target": ["c"], "length_m": None}]),
            "named by its device's key",
        ),
        (
            changed(links=[{"source": ["a", "b"], "target": ["c", "d"], "length_m": -1}]),
            "between 0 and 1000 m",
        ),
        (changed(links=[{"source": ["a", "b"], "target": ["c", "d"], "length_m": "3"}]), "must be a number"),
        (changed(daw={}), "exactly these keys"),
        (changed(daw=changed()["daw"] | {"send_tap": "mid_fader"}), "pre_fader or post_fader"),
        (changed(phantom_on=["in1"]), "named by its device's key"),
        (changed(sound_level_db_spl=[["ribbon"]]), "a microphone's key and a number"),
        (changed(sound_level_db_spl=[["ribbon", None]]), "must be a number"),
        (device(kind="spaceship"), "kind is one of"),
        (device(valve="yes"), "true, false or null"),
        (device(inverts=None), "true or false"),
        (device(ports=[{}]), "exactly these keys"),
        (device(name=3), "must be text"),
        (device(max_spl_db=float("nan")), "must be a number"),
    ],
)
def test_an_unknown_shape_is_refused_with_a_sentence(data: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        hook_up_from_json(data)
