"""The pictures of a study of hearing: where cents come from, over time, noise, strings, delay and frequency."""

from pathlib import Path

from sim.hearing.study import Study
from sim.views.plots.hearing_bias import bias
from sim.views.plots.hearing_latency import latency
from sim.views.plots.hearing_noise import noise
from sim.views.plots.hearing_outcomes import outcomes
from sim.views.plots.hearing_spectrum import spectrum
from sim.views.plots.hearing_time import over_time
from sim.views.plots.style import save


def draw(study: Study, out: Path) -> list[Path]:
    """Write the pictures of a study as SVG and PNG into ``out``; return the paths.

    A study without details has three: outcomes, bias, latency. With them come time, noise and spectrum.
    """
    drawn = {"hearing_outcomes": outcomes(study), "hearing_bias": bias(study), "hearing_latency": latency(study)}
    if study.details is not None:
        drawn["hearing_time"] = over_time(study, study.details.long_pluck)
        drawn["hearing_noise"] = noise(study, study.details.noise)
        drawn["hearing_spectrum"] = spectrum(study.details.spectrum)
    return [path for stem, picture in drawn.items() for path in save(picture, out, stem)]
