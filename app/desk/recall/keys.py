"""What the items of a recall are called, in its marks and on its page."""

from app.desk.passes.pass_sheets import StepSheet

HOOK_UP, LEVELS = "hook-up", "levels"


def cable_key(sockets: str) -> str:
    return f"cable-{sockets}"


def control_key(step_id: int, control_id: int) -> str:
    return f"control-{step_id}-{control_id}"


def placement_key(step_id: int) -> str:
    return f"placement-{step_id}"


def step_key(step_id: int) -> str:
    return f"step-{step_id}"


def keys_of_step(step: StepSheet) -> set[str]:
    """Every item that a step may have."""
    controls = {control_key(step.step_id, line.control_id) for line in step.settings}
    return controls | {placement_key(step.step_id), step_key(step.step_id)}
