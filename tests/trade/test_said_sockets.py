from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.hook_up_plan import Plan, starting_plan
from app.trade.said_sockets import SaidSetting, following, ports_named, socket_job, to_be_said
from app.trade.scales import ControlSpec
from tests.trade.session_hook_ups import AMP, BOX, CABINET, INTERFACE, RIBBON

DEVICES = [INTERFACE, BOX, AMP, CABINET, RIBBON]
PLAN = starting_plan([[*DEVICES, INTERFACE]])[0]
OUTPUT = ControlSpec("Output used", "text", job="output_used")
INPUT = ControlSpec("Input used", "text", job="input_used")
PHANTOM = ControlSpec("Phantom power", "switch", positions=("off", "on"), job="phantom")


def said(output: str = "", into: str = "", phantom: str = "") -> list[SaidSetting]:
    settings = ((1, OUTPUT, output), (2, INPUT, into), (3, PHANTOM, phantom))
    return [SaidSetting("interface", number, spec, text) for number, spec, text in settings]


def at(plan: Plan) -> tuple[str, str, tuple[str, ...]]:
    send = next(link.source.port for link in plan.links if link.source.device == "interface")
    back = next(link.target.port for link in plan.links if link.target.device == "interface")
    return send, back, tuple(ref.port for ref in plan.phantom_on)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("4", ["out4"]),
        ("line out 3", ["out3"]),
        ("3/4", ["out3", "out4"]),
        ("1–3", ["out1", "out2", "out3"]),
        ("Output 2 and 3", ["out2", "out3"]),
        ("output 2", ["out2"]),
        ("99", []),
        ("", []),
        ("the long one", []),
    ],
)
def test_words_name_sockets_by_their_numbers(text: str, named: list[str]) -> None:
    assert list(ports_named(text, INTERFACE.ports, "out")) == named


def test_what_the_settings_say_decides_cables_and_phantom_power() -> None:
    assert at(PLAN) == ("out3", "in1", ())
    assert at(following(PLAN, DEVICES, said("4", "2", "on"))) == ("out4", "in2", ("in2",))
    on = following(PLAN, DEVICES, said("4", "2", "on"))
    assert at(following(on, DEVICES, said("", "", "off"))) == ("out4", "in2", ())


def test_what_they_do_not_say_stays_as_the_plan_has_it() -> None:
    assert following(PLAN, DEVICES, said()) == PLAN
    assert following(PLAN, DEVICES, said("somewhere", "99", "")) == PLAN


def test_controls_of_before_there_were_such_jobs_are_known_by_name() -> None:
    assert socket_job(ControlSpec("Output used", "text")) == "output_used"
    assert socket_job(ControlSpec("48 V phantom 2", "switch", positions=("off", "on"))) == "phantom"
    assert socket_job(ControlSpec("Output level", "number", unit="dB")) == ""


def test_a_switch_with_a_number_is_for_the_input_of_that_number() -> None:
    spec = replace(PHANTOM, name="Phantom 48 V, input 2")
    plan = following(PLAN, DEVICES, [SaidSetting("interface", 1, spec, "on")])
    assert at(plan)[2] == ("in2",)


socket_texts = st.sampled_from(("", "1", "2", "3", "4", "3 and 4", "out 4", "nonsense"))
phantom_texts = st.sampled_from(("", "off", "on"))


@given(
    st.tuples(socket_texts, socket_texts, phantom_texts),
    st.tuples(socket_texts, socket_texts, phantom_texts),
)
def test_once_the_plan_is_kept_its_settings_say_the_same(
    before: tuple[str, str, str], wanted: tuple[str, str, str]
) -> None:
    """Whatever the settings said: a plan that is kept is the plan that is read back."""
    plan = following(PLAN, DEVICES, said(*wanted))
    settings = said(*before)
    changes = to_be_said(plan, DEVICES, settings)
    now = [
        replace(setting, says=changes.get((setting.device, setting.control_id), setting.says))
        for setting in settings
    ]
    assert following(plan, DEVICES, now) == plan
    assert to_be_said(plan, DEVICES, now) == {}
