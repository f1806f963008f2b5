"""What such gear and such playing usually have, for figures of which nothing is known yet: common practice, each with how
far it may lie from the truth. Whoever uses one says that it is typical."""

from dataclasses import dataclass

from app.trade.levels import dbu_from_volts

COMMON_PRACTICE = "common practice"


@dataclass(frozen=True)
class Typical:
    """`within_db` is how far the truth commonly lies from it, either way; `source` says where it is from."""

    value: float
    within_db: float
    source: str = COMMON_PRACTICE


PICKUP_PEAK = Typical(
    dbu_from_volts(2.0**-0.5), 8.0, "a passive pickup, hard played, peaks near 1 V; common practice"
)
SOURCE_PEAK = Typical(-9.0, 6.0, "a track recorded with room to spare; common practice")
SOURCE_RMS = Typical(-21.0, 6.0, "12 dB under its peak; common practice")
FULL_SCALE = Typical(18.0, 6.0, "EBU R 68: 0 dBFS at +18 dBu; interfaces lie between +10 and +24")
BOX_LOSS = Typical(
    12.0, 9.0, "a passive re-amp box steps down by 3 to 20 dB with its trim fully up; common practice"
)
BOX_TRIM = Typical(-10.0, 10.0, "a trim about halfway takes 0 to 20 dB; common practice")
BOX_OUTPUT = Typical(10_000.0, 0.5, "a passive re-amp box’s output; common practice")
INSTRUMENT_INPUT = Typical(1_000_000.0, 0.5, "an amp’s or pedal’s input; common practice")
DI_LOSS = Typical(20.0, 8.0, "a passive DI box’s transformer of 10 or 12 to 1; common practice")
SOUND_LEVEL = Typical(108.0, 12.0, "a few centimetres from an amp at rehearsal level; common practice")
CREST = Typical(12.0, 4.0, "an amp’s, 10 to 15 dB; common practice")
RETURN_GAIN = Typical(30.0, 15.0, "a preamp for a microphone close to an amp; common practice")
RIBBON = Typical(1.5, 4.0, "a passive ribbon microphone, 1 to 2.5 mV/Pa; common practice")
CONDENSER = Typical(15.0, 6.0, "a condenser microphone, 8 to 30 mV/Pa; common practice")
DYNAMIC = Typical(2.0, 4.0, "a dynamic microphone, 1.2 to 3 mV/Pa; common practice")


def sensitivity(ribbon: bool | None, *, needs_phantom: bool) -> Typical:
    """Of a microphone, by what is known of it, in mV/Pa."""
    return RIBBON if ribbon else CONDENSER if needs_phantom else DYNAMIC
