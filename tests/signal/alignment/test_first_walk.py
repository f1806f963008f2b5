import json
from pathlib import Path

import numpy as np
import soundfile

from app.signal.alignment.identify import identify
from app.signal.comparison.match import match
from app.signal.figures import print_figures_from_json, to_json
from app.signal.measure import measure_print


def test_a_print_reads_its_delay_and_polarity_and_survives_json(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).standard_normal(48000 * 8) * 0.1
    soundfile.write(tmp_path / "source.wav", noise, 48000, subtype="PCM_24")
    soundfile.write(
        tmp_path / "print.wav", -0.5 * np.concatenate((np.zeros(480), noise)), 48000, subtype="PCM_24"
    )
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav", features_folder=tmp_path)
    assert figures.alignment is not None
    assert figures.alignment.delay_samples is not None
    assert abs(figures.alignment.delay_samples - 480) < 0.05
    assert figures.alignment.polarity == "inverted"
    text = json.dumps(to_json(figures), allow_nan=False)
    assert print_figures_from_json(json.loads(text)) == figures
    assert identify(tmp_path / "print.wav", [tmp_path / "source.wav"]).best == str(tmp_path / "source.wav")
    assert match(tmp_path / "print.wav", tmp_path / "print.wav", tmp_path / "source.wav").verdict == "match"
