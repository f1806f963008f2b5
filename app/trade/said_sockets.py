"""What a pass's own settings say of the sockets that are used and of phantom power: they are the truth, and the hook-up
follows them."""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from app.trade.control_jobs import Job, is_on, job_by_name
from app.trade.hook_up import Device, Link, PortRef
from app.trade.hook_up_plan import Plan
from app.trade.ports import Direction, Port
from app.trade.scales import ControlSpec

SOCKET_JOBS: tuple[Job, ...] = ("output_used", "input_used", "phantom")


@dataclass(frozen=True)
class SaidSetting:
    """A control of a device that has to do with its sockets, and what it says; empty where it is not noted."""

    device: str
    control_id: int
    spec: ControlSpec
    says: str

    @property
    def job(self) -> Job:
        return socket_job(self.spec)


def socket_job(spec: ControlSpec) -> Job:
    """Which socket job a control has, "" for none. Controls of before there were such jobs are known by their names."""
    job = spec.job or job_by_name(spec.name)
    return job if job in SOCKET_JOBS else ""


def ports_named(text: str, ports: Sequence[Port], direction: Direction) -> tuple[str, ...]:
    """The keys of the ports that words such as "line out 3", "1 and 2" or "5–8" name; by number, else by label."""
    plugged = [port for port in ports if port.direction == direction and port.connector != "air"]
    numbers: list[int] = []
    for found in re.finditer(r"(\d{1,3})(?:\s*[-–]\s*(\d{1,3}))?", text):
        first, last = int(found[1]), int(found[2] or found[1])
        numbers += range(first, last + 1) if first <= last else (first, last)
    by_number = {port.number: port.key for port in plugged if port.number is not None}
    named = [by_number[number] for number in dict.fromkeys(numbers) if number in by_number]
    if not named and text.strip():
        named = [port.key for port in plugged if port.label.casefold() == text.strip().casefold()]
    return tuple(named)


def following(plan: Plan, devices: Sequence[Device], settings: Sequence[SaidSetting]) -> Plan:
    """The plan with its cables at the sockets, and phantom power, that the settings say. Of what they do not say, what
    the plan says stays."""
    links = plan.links
    for device in devices:
        links = _at_named(links, "out", device, _named(settings, device, "output_used"))
        links = _at_named(links, "in", device, _named(settings, device, "input_used"))
    moved = replace(plan, links=links)
    on = list(plan.phantom_on)
    for device in devices:
        for setting in settings:
            says = is_on(setting.says)
            if setting.device != device.key or setting.job != "phantom" or says is None:
                continue
            ruled = ruled_by(setting, device, moved, settings)
            on = [ref for ref in on if ref not in ruled] + (list(ruled) if says else [])
    return replace(moved, phantom_on=tuple(dict.fromkeys(on)))


def ruled_by(
    setting: SaidSetting, device: Device, plan: Plan, settings: Sequence[SaidSetting]
) -> tuple[PortRef, ...]:
    """The inputs that a phantom power switch is for: those its name numbers, else those in use, else all that have it."""
    supplying = [port.key for port in device.ports if port.phantom == "supplies"]
    name = re.sub(r"\b\+?48\s*v?\b", "", setting.spec.name, flags=re.IGNORECASE)
    numbered = [key for key in ports_named(name, device.ports, "in") if key in supplying]
    used = {link.target.port for link in plan.links if link.target.device == device.key}
    used |= set(_named(settings, device, "input_used"))
    keys = numbered or [key for key in supplying if key in used] or supplying
    return tuple(PortRef(device.key, key) for key in keys)


def to_be_said(
    plan: Plan, devices: Sequence[Device], settings: Sequence[SaidSetting]
) -> dict[tuple[str, int], str]:
    """What the settings have to say so that they say the same as the plan, by (device, control): only those that do not
    yet. Empty where a control has no words for it, so that nothing on it speaks against the plan."""
    of = {device.key: device for device in devices}
    changes: dict[tuple[str, int], str] = {}
    now = [setting for setting in settings if setting.device in of]
    for setting in sorted(now, key=lambda setting: setting.job == "phantom"):  # it is for the inputs in use
        device = of[setting.device]
        text = (
            _phantom_text(plan, device, setting, now)
            if setting.job == "phantom"
            else _used_text(plan, device, setting)
        )
        if text is not None and text != setting.says:
            changes[setting.device, setting.control_id] = text
            now[now.index(setting)] = replace(setting, says=text)
    return changes


def _named(settings: Sequence[SaidSetting], device: Device, job: Job) -> tuple[str, ...]:
    side: Direction = "out" if job == "output_used" else "in"
    return tuple(
        key
        for setting in settings
        if setting.device == device.key and setting.job == job
        for key in ports_named(setting.says, device.ports, side)
    )


def _at_named(
    links: tuple[Link, ...], side: Direction, device: Device, named: Collection[str]
) -> tuple[Link, ...]:
    """The cables at one side of a device, moved to the sockets that are named as far as these are free."""

    def end(link: Link) -> PortRef:
        return link.source if side == "out" else link.target

    taken = {end(link).port for link in links if end(link).device == device.key}
    free = [key for key in named if key not in taken]
    moved = []
    for link in links:
        ref = end(link)
        port = device.port(ref.port)
        if (
            free
            and ref.device == device.key
            and ref.port not in named
            and (port is None or port.connector != "air")
        ):
            at = PortRef(device.key, free.pop(0))
            link = replace(link, source=at) if side == "out" else replace(link, target=at)
        moved.append(link)
    return tuple(moved)


def _used_text(plan: Plan, device: Device, setting: SaidSetting) -> str | None:
    side: Direction = "out" if setting.job == "output_used" else "in"
    refs = [link.source if side == "out" else link.target for link in plan.links]
    used = list(dict.fromkeys(ref.port for ref in refs if ref.device == device.key))
    ports = [port for key in used if (port := device.port(key)) is not None and port.connector != "air"]
    if not ports or {port.key for port in ports} <= set(ports_named(setting.says, device.ports, side)):
        return None
    words = [str(port.number) if port.number is not None else port.label for port in ports]
    text = " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else words[0]
    if not setting.spec.positions:
        return text
    wanted = {port.key for port in ports}
    return next(
        (name for name in setting.spec.positions if set(ports_named(name, device.ports, side)) == wanted), ""
    )


def _phantom_text(
    plan: Plan, device: Device, setting: SaidSetting, settings: Sequence[SaidSetting]
) -> str | None:
    ruled = ruled_by(setting, device, plan, settings)
    wanted = {ref in plan.phantom_on for ref in ruled}
    says = is_on(setting.says)
    if wanted == {says} or (wanted <= {False} and says is None):
        return None
    if len(wanted) != 1:
        return ""
    return next((name for name in setting.spec.positions if is_on(name) in wanted), "")
