"""The checks of a hook-up: each a small function named after its rule, all of them run by `check`."""

from collections.abc import Callable

from app.trade.checks.finding import Finding, Question, Severity
from app.trade.checks.grounds import (
    long_unbalanced_run,
    polarity_turned_over,
    two_earthed_devices_without_isolation,
)
from app.trade.checks.phantom import phantom_missing, phantom_on_a_ribbon, phantom_where_it_must_not_be
from app.trade.checks.routing import (
    chain_with_a_loop,
    connection_to_missing_gear,
    gear_without_ports,
    parallel_send_after_the_fader,
    port_used_twice,
    return_into_its_own_send,
    send_is_also_main_output,
)
from app.trade.checks.sockets import (
    instrument_into_line_input,
    line_into_instrument_input,
    line_into_microphone_input,
    microphone_over_its_maximum,
    microphone_without_preamp,
    stereo_into_balanced_input,
)
from app.trade.checks.speakers import (
    attenuator_without_speaker,
    load_of_the_wrong_impedance,
    speaker_fed_without_power_amp,
    speaker_output_into_something_else,
    valve_amp_without_load,
)
from app.trade.hook_up import HookUp

Check = Callable[[HookUp], tuple[Finding, ...]]

CHECKS: tuple[Check, ...] = (
    speaker_output_into_something_else,
    valve_amp_without_load,
    attenuator_without_speaker,
    load_of_the_wrong_impedance,
    speaker_fed_without_power_amp,
    line_into_instrument_input,
    instrument_into_line_input,
    line_into_microphone_input,
    microphone_without_preamp,
    microphone_over_its_maximum,
    stereo_into_balanced_input,
    phantom_on_a_ribbon,
    phantom_where_it_must_not_be,
    phantom_missing,
    send_is_also_main_output,
    return_into_its_own_send,
    parallel_send_after_the_fader,
    port_used_twice,
    chain_with_a_loop,
    gear_without_ports,
    connection_to_missing_gear,
    long_unbalanced_run,
    two_earthed_devices_without_isolation,
    polarity_turned_over,
)

_ORDER: dict[Severity, int] = {"stop": 0, "warn": 1, "note": 2}

__all__ = ["CHECKS", "Check", "Finding", "Question", "Severity", "check"]


def check(hook_up: HookUp) -> tuple[Finding, ...]:
    """Everything the checks find, the gravest first."""
    found = [finding for rule in CHECKS for finding in rule(hook_up)]
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.severity]))
