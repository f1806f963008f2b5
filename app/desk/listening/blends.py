"""The blend of a pass: its prints, and the source beside them where it is heard in parallel. Levels, nudges and
polarities are tried, suggested, and kept with the pass."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.listening.auditions import NEAR_WHOLE_SAMPLES, Lane, LanePrint, auditions_of
from app.desk.listening.blending import Nudge, nudge_of, sum_in_words
from app.desk.listening.measured_together import read_measured_together
from app.desk.passes.leads import lead_of
from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.passes.passes import find_pass
from app.desk.planning.hook_up import saved_route
from app.desk.refusals import Complaints, NotThere
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import SOURCE_LANE, Blend, Print, WorkState
from app.signal.listening.blend_figures import (
    BlendFigures,
    BlendSetting,
    MeasuredTogether,
    Sum,
    blend_of,
    sum_of,
)
from app.trade.k_weighting import k_weighting_db
from app.trade.levels import power_sum_db

LIMIT_DB = 60.0
LIMIT_SAMPLES = 1_000_000.0
MUTED = BlendSetting(gain_db=-300.0)

LaneId = int | None
"""A print's id, or None for the source itself."""


@dataclass(frozen=True)
class BlendRow:
    """One lane of the blend form as typed, with what lining it up would take. `key` names its fields."""

    print_id: LaneId
    words: str
    is_in: bool
    gain: str
    nudge: str
    inverted: bool
    suggested: Nudge | None
    suggested_inverted: bool

    @property
    def key(self) -> str:
        return key_of(self.print_id)


@dataclass(frozen=True)
class HeardBlend:
    """One choice of the player: a setting for each row, `MUTED` where it is not heard."""

    id: str
    words: str
    settings: tuple[BlendSetting, ...]


@dataclass(frozen=True)
class BlendSheet:
    """`figures` and `said` are of the lanes that are in the blend; they are missing while the lanes are not ready, and
    `reason` says why. `lanes` are the rows' auditions. `late` is how the prints lie as they came back, not lined up
    with the source, where that is another sum."""

    sheet: PassSheet
    rows: tuple[BlendRow, ...]
    settings: tuple[BlendSetting, ...]
    figures: BlendFigures | None
    said: tuple[str, ...]
    reason: str
    is_kept: bool
    lanes: tuple[LanePrint, ...]
    rate: int
    late: Nudge | None
    late_said: tuple[str, ...]
    heard: tuple[HeardBlend, ...]
    is_coming: bool
    has_failed: bool

    @property
    def names(self) -> tuple[str, ...]:
        """Of the lanes in the blend, in the order of its figures."""
        return tuple(row.words for row in self.rows if row.is_in)


def key_of(lane: LaneId) -> str:
    return SOURCE_LANE if lane is None else str(lane)


def read_blend_sheet(library: Readable, pass_id: int) -> BlendSheet:
    """The blend as it is kept with the pass; else all prints as they were recorded, and the source with them where it
    is heard in parallel, or where there is but one print."""
    sheet = read_pass(library, pass_id)
    lane = _lane(library, sheet)
    with library.reading() as session:
        kept = _kept(session, [pass_id]).get(pass_id)
        is_parallel = saved_route(session, pass_id) == "parallel"
    items = lane.heard
    if kept is None:
        with_source = is_parallel or len(items) <= 2
        inside = [item.print_id is not None or with_source for item in items]
    else:
        inside = [item.print_id in kept for item in items]
    settings = tuple((kept or {}).get(item.print_id, BlendSetting()) for item in items)
    rate = lane.sample_rate or sheet.project_sample_rate
    names = tuple(_name(sheet, item) for item in items)
    chosen = [index for index, is_in in enumerate(inside) if is_in]
    reason = _why_not(lane, len(chosen))
    done = _Done() if reason else _done(library, sheet, lane, settings, chosen, names, rate)
    figures, late = done.figures, done.late
    suggested = dict(zip(chosen, figures.suggested, strict=True)) if figures and figures.suggested else {}
    rows = tuple(
        _row(item, names[index], inside[index], settings[index], suggested.get(index), rate)
        for index, item in enumerate(items)
    )
    heard = () if figures is None else _heard(rows, settings, suggested, items, late, kept is not None)
    return BlendSheet(
        sheet,
        rows,
        settings,
        figures,
        done.said,
        reason,
        kept is not None,
        items,
        rate,
        late,
        done.late_said,
        heard,
        lane.state == "coming",
        any(item.state == WorkState.FAILED for item in lane.prints),
    )


@dataclass(frozen=True)
class _Done:
    """What a sum does; nothing where it is not known."""

    figures: BlendFigures | None = None
    said: tuple[str, ...] = ()
    late: Nudge | None = None
    late_said: tuple[str, ...] = ()


def _done(
    library: Readable,
    sheet: PassSheet,
    lane: Lane,
    settings: Sequence[BlendSetting],
    chosen: Sequence[int],
    names: Sequence[str],
    rate: int,
) -> _Done:
    measured = _of_the_pass(read_measured_together(library, lane.loudness_key or ""), lane, sheet, rate)
    part = measured.only(chosen)
    items = [lane.heard[index] for index in chosen]
    called = [names[index] for index in chosen]
    at = [settings[index] for index in chosen]
    figures = blend_of(part, at, [item.polarity for item in items])
    said = sum_in_words(called, part, at)
    late = _late(sheet, items, rate)
    if late is None:
        return _Done(figures, said)
    as_it_came = [_moved(setting, item, late) for setting, item in zip(at, items, strict=True)]
    return _Done(figures, said, late, sum_in_words(called, part, as_it_came))


def keep_blend(library: Library, pass_id: int, typed: Mapping[LaneId, tuple[str, str, bool]]) -> None:
    """Keep a blend of these lanes: the gain in dB and the nudge in samples as typed, and whether it is turned over."""
    complaints = Complaints()
    kept = {}
    with library.reading() as session:
        find_pass(session, pass_id)
        prints = set(session.scalars(select(col(Print.id)).where(col(Print.pass_id) == pass_id)))
    for lane, (gain, nudge, inverted) in typed.items():
        key = key_of(lane)
        gain_db = _number(complaints, f"gain-{key}", gain, LIMIT_DB, "A gain lies between −60 and 60 dB.")
        samples = _number(
            complaints, f"nudge-{key}", nudge, LIMIT_SAMPLES, "A nudge lies within a million samples."
        )
        if lane is None or lane in prints:
            kept[key] = {"gain_db": gain_db, "nudge_samples": samples, "inverted": inverted}
    if len(kept) < 2:
        complaints.add("", "A blend is made of two or more: tick another print, or the source.")
    complaints.refuse_if_any()
    with library.writing() as session:
        find_pass(session, pass_id)
        session.merge(Blend(pass_id=pass_id, settings=kept))


def keep_suggested(library: Library, pass_id: int) -> None:
    """Keep the nudges and polarities that line all of the blend up, at the levels of today."""
    blend = read_blend_sheet(library, pass_id)
    if blend.figures is None or blend.figures.suggested is None:
        raise NotThere("suggestion")
    inside = [row for row in blend.rows if row.is_in]
    keep_blend(
        library,
        pass_id,
        {
            row.print_id: (f"{setting.gain_db:g}", f"{setting.nudge_samples:g}", setting.inverted)
            for row, setting in zip(inside, blend.figures.suggested, strict=True)
        },
    )


def kept_blends(library: Readable, pass_ids: Sequence[int]) -> dict[int, dict[LaneId, BlendSetting]]:
    """By pass the blend that is kept with it; one without a blend is left out."""
    with library.reading() as session:
        return _kept(session, pass_ids)


def lane_gains(library: Readable, pass_id: int) -> dict[str, float]:
    """By the player's lane ("blend", "suggested", "alone-12"), the gain in dB that makes it as loud as the quietest:
    by the K-weighted mean level of its bands over the whole length."""
    blend = read_blend_sheet(library, pass_id)
    if blend.figures is None:
        return {}
    measured = read_measured_together(library, _lane(library, blend.sheet).loudness_key or "")
    levels = {
        choice.id: weighted_level_db(sum_of(measured.spectra, choice.settings)) for choice in blend.heard
    }
    quietest = min((level for level in levels.values() if level is not None), default=0.0)
    return {name: 0.0 if level is None else quietest - level for name, level in levels.items()}


def _heard(
    rows: Sequence[BlendRow],
    settings: Sequence[BlendSetting],
    suggested: Mapping[int, BlendSetting],
    items: Sequence[LanePrint],
    late: Nudge | None,
    is_kept: bool,
) -> tuple[HeardBlend, ...]:
    def choice(name: str, words: str, of: Mapping[int, BlendSetting]) -> HeardBlend:
        return HeardBlend(name, words, tuple(of.get(index, MUTED) for index in range(len(rows))))

    now = {index: settings[index] for index, row in enumerate(rows) if row.is_in}
    choices = [choice("blend", "The blend as it is kept" if is_kept else "All as recorded", now)]
    if suggested:
        choices.append(choice("suggested", "Lined up as suggested", suggested))
    if late is not None:
        moved = {index: _moved(setting, items[index], late) for index, setting in now.items()}
        choices.append(choice("late", f"As it came back, {_distance(late)}", moved))
    choices += [
        choice(f"alone-{row.key}", f"{row.words} alone", {index: BlendSetting()})
        for index, row in enumerate(rows)
    ]
    return tuple(choices)


def _distance(late: Nudge) -> str:
    return f"{abs(late.samples):.0f} samples {'late' if late.samples > 0 else 'early'}"


def _moved(setting: BlendSetting, item: LanePrint, late: Nudge) -> BlendSetting:
    if item.print_id is None:
        return setting
    return replace(setting, nudge_samples=setting.nudge_samples + late.samples)


def _late(sheet: PassSheet, inside: Sequence[LanePrint], rate: int) -> Nudge | None:
    """By how much the prints came back later than the source that is blended with them."""
    lead = lead_of(item.measured.figures for item in sheet.prints)
    if lead is None or all(item.print_id is not None for item in inside):
        return None
    samples = lead.delay_s * rate
    if abs(samples - round(samples)) <= NEAR_WHOLE_SAMPLES:
        samples = float(round(samples))
    return nudge_of(samples, rate) if abs(samples) >= 0.5 else None


def _of_the_pass(measured: MeasuredTogether, lane: Lane, sheet: PassSheet, rate: int) -> MeasuredTogether:
    """What was measured together, the source's place beside each print being what the pass itself says of it."""
    lead = lead_of(item.measured.figures for item in sheet.prints)
    alone = {
        item.print_id: alignment.delay_samples / figures.file.sample_rate
        for item in sheet.prints
        if (figures := item.measured.figures) is not None
        and (alignment := figures.alignment) is not None
        and alignment.delay_samples is not None
    }
    polarities = [item.polarity for item in lane.heard]
    pairs = []
    for pair in measured.pairs:
        first, second = lane.heard[pair.first], lane.heard[pair.second]
        if first.print_id is None and lead is not None and second.print_id in alone:
            delay = (alone[second.print_id] - lead.delay_s) * rate
            pair = replace(pair, delay_samples=delay)
        one, other = polarities[pair.first], polarities[pair.second]
        if "unclear" not in (one, other):
            pair = replace(pair, polarity="same" if one == other else "inverted")
        pairs.append(pair)
    return MeasuredTogether(measured.spectra, tuple(pairs))


def weighted_level_db(total: Sum) -> float | None:
    """K-weighted, over the whole length; None where there is nothing to hear."""
    level = power_sum_db(
        band.sum_dbfs + k_weighting_db(band.mid_hz) for band in total.bands if band.sum_dbfs is not None
    )
    return level if isfinite(level) else None


def _lane(library: Readable, sheet: PassSheet) -> Lane:
    lanes = auditions_of(library, [sheet], with_source=True)
    return next(lane for lane in lanes if lane.pass_id == sheet.pass_id)


def _why_not(lane: Lane, inside: int) -> str:
    if all(item.print_id is None for item in lane.prints):
        return "There is no print to blend yet; attach one to this pass."
    if len(lane.prints) < 2:
        return "A blend needs two prints or more, or the source's audio beside one."
    if lane.state == "coming" or (lane.loudness_key is None and len(lane.heard) > 1):
        return "The prints are being made ready; the blend stands here in a moment."
    if len(lane.heard) < 2:
        return lane.reason or "Fewer than two of them can be heard."
    if inside < 2:
        return "Of the blend that was kept, fewer than two can be heard; choose again below."
    return ""


def _name(sheet: PassSheet, item: LanePrint) -> str:
    return f"{sheet.source_name}, dry" if item.print_id is None else item.label or item.file_name


def _row(
    item: LanePrint,
    words: str,
    is_in: bool,
    setting: BlendSetting,
    suggested: BlendSetting | None,
    rate: int,
) -> BlendRow:
    return BlendRow(
        item.print_id,
        words,
        is_in,
        f"{setting.gain_db:g}".replace("-", "−"),
        f"{setting.nudge_samples:g}".replace("-", "−"),
        setting.inverted,
        None if suggested is None else nudge_of(suggested.nudge_samples, rate),
        suggested is not None and suggested.inverted,
    )


def _kept(session: Session, pass_ids: Sequence[int]) -> dict[int, dict[LaneId, BlendSetting]]:
    rows = session.scalars(select(Blend).where(col(Blend.pass_id).in_(list(pass_ids))))
    return {
        row.pass_id: {
            None if key == SOURCE_LANE else int(key): BlendSetting(**value)
            for key, value in row.settings.items()
        }
        for row in rows
    }


def _number(complaints: Complaints, at: str, text: str, limit: float, sentence: str) -> float:
    value = read_figure(complaints, at, text) or 0.0
    if abs(value) > limit:
        complaints.add(at, sentence)
        return 0.0
    return value
