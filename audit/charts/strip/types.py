"""What a drawing of a strip needs: the window, the rows of each layer, and which layers are on."""

from dataclasses import dataclass, field

import pandas as pd

CSS_PX_PER_CM = 96 / 2.54  # CSS defines 96 px to the inch

FHR_LOWEST_BPM, FHR_HIGHEST_BPM = 50, 210
TOCO_LOWEST, TOCO_HIGHEST = 0, 100
FHR_MINOR_BPM, FHR_MAJOR_BPM = 10, 30


@dataclass(frozen=True)
class StripWindow:
    """A stretch of time and the scale it is drawn at. Times in seconds from the case's zero."""

    start_s: float
    end_s: float
    px_per_min: float
    fhr_height_px: int = 302
    toco_height_px: int = 151

    @property
    def width_px(self) -> int:
        """Width of the drawing without its margins."""
        return max(1, round((self.end_s - self.start_s) / 60 * self.px_per_min))


@dataclass(frozen=True)
class PaperScale:
    """A paper scale: length on paper per minute, and bpm per length."""

    name: str
    cm_per_min: float
    bpm_per_cm: float

    def window(self, start_s: float, end_s: float) -> StripWindow:
        """The window at true scale in CSS pixels (96 to the inch); on paper measured with the printer at 100 %."""
        height_cm = (FHR_HIGHEST_BPM - FHR_LOWEST_BPM) / self.bpm_per_cm
        toco_height_px = round(4 * CSS_PX_PER_CM)
        return StripWindow(
            start_s, end_s, self.cm_per_min * CSS_PX_PER_CM, round(height_cm * CSS_PX_PER_CM), toco_height_px
        )

    def narrowed(self, seconds: float, width_cm: float) -> "PaperScale":
        """This scale, or the one on which so much time takes no more than the width; not a paper scale then."""
        cm_per_min = 60.0 * width_cm / seconds
        return self if cm_per_min >= self.cm_per_min else PaperScale("fitted", cm_per_min, self.bpm_per_cm)


# Both pairs are in use: 1 cm/min with 20 bpm/cm, 3 cm/min with 30 bpm/cm. Common practice, no source.
SCALE_1 = PaperScale("1 cm/min", 1.0, 20.0)
SCALE_3 = PaperScale("3 cm/min", 3.0, 30.0)


def fitted_window(start_s: float, end_s: float, width_px: int, heights_px: tuple[int, int] = (302, 151)) -> StripWindow:
    """The window squeezed or stretched to a width, and to the heights of its two channels; not a paper scale."""
    return StripWindow(start_s, end_s, width_px / ((end_s - start_s) / 60), *heights_px)


def _no_rows() -> pd.DataFrame:
    return pd.DataFrame()


@dataclass(frozen=True)
class StripRows:
    """The rows of each layer; an empty frame is a layer with nothing in it. `minute` counts from the case's zero.

    fhr, mhr : minute, bpm (NaN breaks the line). toco : minute, toco.
    baseline : minute, bpm, stated (False = drawn through an indeterminate stretch).
    decelerations : minute, end_minute, nadir_minute, lowest_bpm, kind, letter and the columns named in
        `strip_rows.DECELERATION_TOOLTIP`. accelerations : minute, end_minute, peak_minute, height.
    contractions : minute, peak_minute, end_minute, amplitude. excluded : minute, bpm, why (one row per sample drawn).
    unseen : minute, end_minute, why, lasts. spans : minute, end_minute, text (sinusoidal runs, level changes).
    events, clock : minute, text, what (clock: also role). categories : minute, end_minute, standard, category,
        severity, reasons. agreed : minute, end_minute, role, text, what, of the meeting's own clock.
    """

    fhr: pd.DataFrame = field(default_factory=_no_rows)
    mhr: pd.DataFrame = field(default_factory=_no_rows)
    toco: pd.DataFrame = field(default_factory=_no_rows)
    baseline: pd.DataFrame = field(default_factory=_no_rows)
    decelerations: pd.DataFrame = field(default_factory=_no_rows)
    accelerations: pd.DataFrame = field(default_factory=_no_rows)
    contractions: pd.DataFrame = field(default_factory=_no_rows)
    excluded: pd.DataFrame = field(default_factory=_no_rows)
    unseen: pd.DataFrame = field(default_factory=_no_rows)
    spans: pd.DataFrame = field(default_factory=_no_rows)
    events: pd.DataFrame = field(default_factory=_no_rows)
    clock: pd.DataFrame = field(default_factory=_no_rows)
    categories: pd.DataFrame = field(default_factory=_no_rows)
    agreed: pd.DataFrame = field(default_factory=_no_rows)


@dataclass(frozen=True)
class StripLayers:
    """Which layers are drawn over the bare strip; all off is the strip as it came from the machine."""

    baseline: bool = False
    decelerations: bool = False
    accelerations: bool = False
    contractions: bool = False
    excluded: bool = False
    spans: bool = False
    events: bool = False
    clock: bool = False
    categories: bool = False
    maternal: bool = False
    agreed: bool = False

    @classmethod
    def chosen(cls, names: "list[str] | tuple[str, ...]") -> "StripLayers":
        """Layers by name; an unknown name is an error."""
        return cls(**dict.fromkeys(names, True))
