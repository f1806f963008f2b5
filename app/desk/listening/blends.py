"""The blend of a pass's prints: levels, nudges and polarities, tried, suggested, and kept with the pass."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite

from sqlalchemy.orm import Session

from app.desk.listening.auditions import Lane, LanePrint, read_auditions
from app.desk.listening.blending import Nudge, nudge_of, read_blend, read_measured_together
from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.passes.passes import find_pass
from app.desk.refusals import Complaints, NotThere
from app.desk.typed_figures import read_figure
from app.library import Library, Readable
from app.records import Blend
from app.signal.listening.blend_figures import BlendFigures, BlendSetting, Sum, sum_of
from app.trade.k_weighting import k_weighting_db
from app.trade.levels import power_sum_db

LIMIT_DB = 60.0
LIMIT_SAMPLES = 1_000_000.0
MUTED_DB = -300.0


@dataclass(frozen=True)
class BlendRow:
    """One print of the blend form as typed, with what lining it up would take."""

    print_id: int
    words: str
    gain: str
    nudge: str
    inverted: bool
    suggested: Nudge | None
    suggested_inverted: bool


@dataclass(frozen=True)
class BlendSheet:
    """`figures` is None while the prints are not ready, and `reason` says why."""

    sheet: PassSheet
    rows: tuple[BlendRow, ...]
    settings: tuple[BlendSetting, ...]
    figures: BlendFigures | None
    reason: str
    is_kept: bool


def read_blend_sheet(library: Readable, pass_id: int) -> BlendSheet:
    """The blend as it is kept with the pass, else all prints as they were recorded."""
    sheet = read_pass(library, pass_id)
    lane = _lane(library, pass_id)
    with library.reading() as session:
        kept = _kept(session, pass_id)
    prints = lane.heard
    settings = tuple(kept.get(item.print_id or 0, BlendSetting()) for item in prints)
    figures, reason = _figures(library, lane, settings)
    suggested = figures.suggested if figures is not None else None
    rate = lane.sample_rate or sheet.project_sample_rate
    rows = tuple(
        _row(item, setting, None if suggested is None else suggested[index], rate)
        for index, (item, setting) in enumerate(zip(prints, settings, strict=True))
    )
    return BlendSheet(sheet, rows, settings, figures, reason, bool(kept))


def keep_blend(library: Library, pass_id: int, typed: Mapping[int, tuple[str, str, bool]]) -> None:
    """Keep a blend: by print id the gain in dB and the nudge in samples as typed, and whether it is turned over."""
    complaints = Complaints()
    kept = {}
    for print_id, (gain, nudge, inverted) in typed.items():
        gain_db = _number(
            complaints, f"gain-{print_id}", gain, LIMIT_DB, "A gain lies between −60 and 60 dB."
        )
        samples = _number(
            complaints, f"nudge-{print_id}", nudge, LIMIT_SAMPLES, "A nudge lies within a million samples."
        )
        kept[str(print_id)] = {"gain_db": gain_db, "nudge_samples": samples, "inverted": inverted}
    complaints.refuse_if_any()
    with library.writing() as session:
        find_pass(session, pass_id)
        session.merge(Blend(pass_id=pass_id, settings=kept))


def keep_suggested(library: Library, pass_id: int) -> None:
    """Keep the nudges and polarities that line all prints up, at the levels of today."""
    blend = read_blend_sheet(library, pass_id)
    if blend.figures is None or blend.figures.suggested is None:
        raise NotThere("suggestion")
    keep_blend(
        library,
        pass_id,
        {
            row.print_id: (f"{setting.gain_db:g}", f"{setting.nudge_samples:g}", setting.inverted)
            for row, setting in zip(blend.rows, blend.figures.suggested, strict=True)
        },
    )


def kept_moves(
    library: Library, pass_ids: Sequence[int]
) -> tuple[tuple[tuple[int, float], ...], tuple[int, ...]]:
    """The nudges (print id, samples) and the prints turned over, in the blends kept with these passes."""
    with library.reading() as session:
        kept = {key: value for pass_id in pass_ids for key, value in _kept(session, pass_id).items()}
    nudges = tuple((print_id, setting.nudge_samples) for print_id, setting in kept.items())
    return nudges, tuple(print_id for print_id, setting in kept.items() if setting.inverted)


def lane_gains(library: Readable, pass_id: int) -> dict[str, float]:
    """By the player's lane ("blend", "suggested", "alone-12"), the gain in dB that makes it as loud as the quietest:
    by the K-weighted mean level of its bands over the whole length."""
    blend = read_blend_sheet(library, pass_id)
    if blend.figures is None:
        return {}
    measured = read_measured_together(library, _lane(library, pass_id).loudness_key or "")
    lanes = {"blend": blend.settings}
    if blend.figures.suggested is not None:
        lanes["suggested"] = blend.figures.suggested
    for index, row in enumerate(blend.rows):
        alone = [BlendSetting(gain_db=MUTED_DB) for _ in blend.rows]
        alone[index] = BlendSetting()
        lanes[f"alone-{row.print_id}"] = tuple(alone)
    levels = {
        name: _weighted_level_db(sum_of(measured.spectra, settings)) for name, settings in lanes.items()
    }
    quietest = min((level for level in levels.values() if level is not None), default=0.0)
    return {name: 0.0 if level is None else quietest - level for name, level in levels.items()}


def _weighted_level_db(total: Sum) -> float | None:
    level = power_sum_db(
        band.sum_dbfs + k_weighting_db(band.mid_hz) for band in total.bands if band.sum_dbfs is not None
    )
    return level if isfinite(level) else None


def _lane(library: Readable, pass_id: int) -> Lane:
    return next(lane for lane in read_auditions(library, [pass_id]) if lane.pass_id == pass_id)


def _figures(
    library: Readable, lane: Lane, settings: Sequence[BlendSetting]
) -> tuple[BlendFigures | None, str]:
    if len(lane.prints) < 2:
        return None, "A blend needs two prints or more; attach the others to this pass."
    if lane.state == "coming" or lane.loudness_key is None:
        return None, "The prints are being made ready; look again in a moment."
    if len(lane.heard) < 2:
        return None, lane.reason or "Fewer than two of the prints can be heard."
    return read_blend(library, lane.loudness_key, settings), ""


def _row(item: LanePrint, setting: BlendSetting, suggested: BlendSetting | None, rate: int) -> BlendRow:
    return BlendRow(
        item.print_id or 0,
        item.label or item.file_name,
        f"{setting.gain_db:g}".replace("-", "−"),
        f"{setting.nudge_samples:g}".replace("-", "−"),
        setting.inverted,
        None if suggested is None else nudge_of(suggested.nudge_samples, rate),
        suggested is not None and suggested.inverted,
    )


def _kept(session: Session, pass_id: int) -> dict[int, BlendSetting]:
    row = session.get(Blend, pass_id)
    return {} if row is None else {int(key): BlendSetting(**value) for key, value in row.settings.items()}


def _number(complaints: Complaints, at: str, text: str, limit: float, sentence: str) -> float:
    value = read_figure(complaints, at, text) or 0.0
    if abs(value) > limit:
        complaints.add(at, sentence)
        return 0.0
    return value
