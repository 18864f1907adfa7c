"""Prior knowledge of a photo's camera: from Exif, or from typical cameras if Exif says nothing.

Each value comes with a standard uncertainty: the focal length in pixels, the principal point, the lens.
"""

from dataclasses import dataclass
from math import hypot, log, sqrt
from typing import TYPE_CHECKING

from calibration.camera.intrinsics import Camera
from calibration.camera.lens_database import KnownCamera, known_camera
from calibration.cautions import Caution, CautionCode

if TYPE_CHECKING:
    from calibration.image import ExifFacts, Photo

__all__ = [
    "Camera",
    "camera_from_exif",
    "camera_from_photo",
    "focal_from_equivalent",
    "frame_diagonal",
    "lens_hypotheses",
]

# Diagonal of the 36 x 24 mm frame: the 35 mm equivalent is taken to compare diagonals (CIPA DCG-001).
FULL_FRAME_DIAGONAL_MM = hypot(36.0, 24.0)

# Stated focal length against the one in use: tolerance, electronic stabilisation, slight zoom when
# focusing.
_STATED_LOG_STD = 0.028
_ASSUMED_LOG_STD = 0.25
# A wider view than this bends lines unless software straightens them, and not all software does.
_WIDE_ANGLE_MM = 22.0
# Up to 1280 x 960: a picture that small and without Exif is a webcam's, an action or board camera's, or a
# phone's that a messenger or a marketplace has shrunk.
_SMALL_PICTURE_PX = 1280 * 960
# Frames of webcams and board cameras, lying (those that their drivers offer and sensors have, from memory).
# No camera has 873 x 960, 960 x 960 or 1280 x 524, and webcams are rarely turned upright.
_WEBCAM_FRAMES = frozenset(
    {
        (160, 120), (176, 144), (320, 180), (320, 240), (352, 288), (424, 240), (432, 240), (640, 360),
        (640, 400), (640, 480), (704, 576), (720, 480), (720, 576), (752, 480), (768, 576), (800, 448),
        (800, 480), (800, 600), (848, 480), (864, 480), (960, 540), (960, 544), (960, 720), (1024, 576),
        (1024, 768), (1280, 720), (1280, 800), (1280, 960),
    }
)  # fmt: skip
# Larger frames of video, long side and short side: webcams again, or stills of a phone's video.
_VIDEO_FRAMES = ((1920, 1080), (1920, 1200), (2560, 1440), (3840, 2160))


def focal_from_equivalent(equivalent_mm: float, width_px: float, height_px: float) -> tuple[float, float]:
    """Turn a 35 mm equivalent into pixels, by the diagonal of the uncropped frame.

    Parameters
    ----------
    equivalent_mm : float
        FocalLengthIn35mmFilm, a whole number of mm.
    width_px, height_px : float
        Size of the photo.

    Returns
    -------
    focal_px, log_std : float
        The log's standard uncertainty holds the rounding to a whole mm, the maker's tolerance and, for a
        picture that is neither 4:3 nor 3:2, the doubt whether the stated figure belongs to the crop or the
        frame.
    """
    long, short = max(width_px, height_px), min(width_px, height_px)
    diagonal, doubt = frame_diagonal(long, short)
    rounding = 0.5 / sqrt(3.0) / equivalent_mm
    return equivalent_mm * diagonal / FULL_FRAME_DIAGONAL_MM, sqrt(
        _STATED_LOG_STD**2 + rounding**2 + doubt**2
    )


def frame_diagonal(long_px: float, short_px: float) -> tuple[float, float]:
    """Return the diagonal in px of the sensor's whole frame and the log doubt about it.

    Sensors are 4:3 (phones, compacts) or 3:2; any other picture is a crop of one, most often 4:3.
    """
    aspect = long_px / short_px
    whole = hypot(long_px, short_px)
    if min(abs(aspect / known - 1.0) for known in (4 / 3, 3 / 2)) < 0.015:
        return whole, 0.0
    frame = long_px * 1.25 if aspect > 4 / 3 else short_px * 5 / 3
    # Half the gap between the two readings, as a rectangular half-width about the frame's.
    return frame, abs(log(frame / whole)) / sqrt(3.0)


def camera_from_photo(photo: "Photo") -> Camera:
    """Return the camera that a photo's Exif describes, or the one assumed where it says nothing.

    What Exif leaves open of a camera that it names comes from `lens_database`. An implausible focal length is
    ignored; the camera's source says where its focal length is from.

    Parameters
    ----------
    photo : Photo
        For its size and Exif.

    Returns
    -------
    Camera
        Focal length, principal point and lens with standard uncertainties, for the upright photo.

    References
    ----------
    CIPA DCG-001: the focal length in 35 mm film compares the diagonals of the frames.
    """
    return camera_from_exif(photo.width_px, photo.height_px, photo.exif)


def camera_from_exif(width_px: int, height_px: int, exif: "ExifFacts | None") -> Camera:
    """Return the camera of a picture of this size with these Exif facts (None: no Exif at all)."""
    frame = _frame(width_px, height_px, exif)
    known = None if exif is None else known_camera(exif)
    focal = _focal(frame, exif, known)
    # A picture without a camera's name may come from anywhere.
    nameless = exif is None or exif.make is None
    small = focal.assumed and nameless and width_px * height_px <= _SMALL_PICTURE_PX
    sides = (max(width_px, height_px), min(width_px, height_px))
    webcam = small and (width_px, height_px) in _WEBCAM_FRAMES
    video = focal.assumed and nameless and sides in _VIDEO_FRAMES
    if video or small:
        division, k1_std = _VIDEO_LENS if video else _WEBCAM_LENS if webcam else _SHRUNK_LENS
    else:
        division, k1_std = _lens_prior(focal, frame, known, nameless=nameless)
    # Phones and cameras centre the sensor within about 1 % of the width; the sensors of small board cameras
    # sit a tenth of a millimetre off on 4 mm, 2 to 3 %.
    share = 0.03 if webcam else 0.02 if video or small else 0.01
    centre_std_px = hypot(share * max(width_px, height_px), frame.offset_std_px)
    return Camera(
        width_px,
        height_px,
        focal.focal_px,
        focal.log_std,
        ((width_px - 1) / 2, (height_px - 1) / 2),
        centre_std_px,
        division=division,
        k1_std=k1_std,
        source=focal.source,
        cautions=(*frame.cautions, *focal.cautions),
    )


@dataclass(frozen=True, slots=True)
class _Frame:
    """The camera's whole picture, of which the photo may be a part.

    Sizes are in the photo's pixels; `resized` is the photo's scale against the camera's own pixels.
    """

    width_px: float
    height_px: float
    resized: float = 1.0
    offset_std_px: float = 0.0
    log_doubt: float = 0.0
    cautions: tuple[Caution, ...] = ()

    @property
    def sensor_diagonal_px(self) -> float:
        long, short = max(self.width_px, self.height_px), min(self.width_px, self.height_px)
        return frame_diagonal(long, short)[0]


_CROPPED = Caution.of(CautionCode.CROPPED)


def _frame(width_px: int, height_px: int, exif: "ExifFacts | None") -> _Frame:
    """Compare the photo's size with the one that the camera says it wrote."""
    if exif is None or not exif.stated_width_px or not exif.stated_height_px:
        if _is_usual_shape(width_px, height_px):
            return _Frame(width_px, height_px)
        return _cut_frame(width_px, height_px)
    upright = (exif.stated_width_px, exif.stated_height_px)
    lying = (exif.stated_height_px, exif.stated_width_px)
    # Programs that rotate the pixels don't always say so: an uncropped picture may have either orientation.
    for whole in (upright, lying):
        across, down = width_px / whole[0], height_px / whole[1]
        if abs(across / down - 1.0) < 0.015:
            if not _is_usual_shape(*whole):
                # An editor has cut the picture and written its new size over the camera's.
                return _cut_frame(width_px, height_px)
            return _Frame(width_px, height_px, resized=(across * down) ** 0.5)
    stated = lying if exif.orientation >= 5 else upright
    across, down = width_px / stated[0], height_px / stated[1]
    # What was cut off may lie on either side: a rectangular distribution. If one side is uncropped, the scale
    # is certain; if neither is, the crop may have been resized as well.
    scale = max(across, down, 1.0)
    cut_px = max(stated[0] * scale - width_px, stated[1] * scale - height_px)
    whole_side = abs(max(across, down) - 1.0) < 0.015
    return _Frame(
        stated[0] * scale,
        stated[1] * scale,
        resized=scale,
        offset_std_px=cut_px / 2.0 / sqrt(3.0),
        log_doubt=0.0 if whole_side else 0.15,
        cautions=(_CROPPED,),
    )


def _cut_frame(width_px: int, height_px: int) -> _Frame:
    """Return a crop of unknown extent: a tenth of the width cut off one side or the other."""
    offset_std_px = 0.05 * max(width_px, height_px)
    return _Frame(width_px, height_px, offset_std_px=offset_std_px, log_doubt=0.1, cautions=(_CROPPED,))


# Long side over short side of what cameras, telephones and screens write (from memory), each within what
# rounding to whole blocks of pixels changes. Nothing but a true square is 1.
_USUAL_SHAPES = (
    5 / 4,
    4 / 3,
    3 / 2,
    16 / 10,
    16 / 9,
    18 / 9,
    18.5 / 9,
    19 / 9,
    19.5 / 9,
    4000 / 1824,
    20 / 9,
)
_SHAPE_TOLERANCE = 0.006


def _is_usual_shape(width_px: int, height_px: int) -> bool:
    """Tell whether a camera writes pictures of this shape; other shapes are an editor's crops."""
    long, short = max(width_px, height_px), min(width_px, height_px)
    rounding = 1.0 / short
    if (long, short) in _WEBCAM_FRAMES or long / short - 1.0 <= rounding:
        return True
    off = min(abs(long / short / known - 1.0) for known in _USUAL_SHAPES)
    return off < _SHAPE_TOLERANCE + rounding


# As likely a webcam, of which better ones bend lines by about a twentieth (-0.08 ± 0.08, from memory of
# calibrations that users published), as a phone that straightened its video (0 ± 0.03): mean and standard
# deviation of the two together.
_VIDEO_LENS = (-0.04, 0.072)


# Lens designs bound the coefficient: equisolid -3/8, rectilinear 0, slight pincushion +0.05. A webcam's lens
# of which nothing else is known is taken as rectangular between: -0.16 ± 0.12. A phone straightens its
# pictures: 0 ± 0.02. Mean and standard deviation of both together, where three in four are webcams' by their
# frame, and where one in ten is, cut or shrunk (the shares are our judgement) but the mean stays at 0.
_WEBCAM_LENS = (-0.12, 0.13)
_SHRUNK_LENS = (0.0, 0.065)


# What those were made of: share, mean and standard deviation.
_HARDLY_BENT, _WEBCAM = (0.0, 0.02), (-0.16, 0.12)
_MIXTURES = {
    _WEBCAM_LENS: ((0.25, *_HARDLY_BENT), (0.75, *_WEBCAM)),
    _SHRUNK_LENS: ((0.9, *_HARDLY_BENT), (0.1, *_WEBCAM)),
    _VIDEO_LENS: ((0.5, -0.08, 0.08), (0.5, 0.0, 0.03)),
}


def lens_hypotheses(camera: Camera) -> tuple[tuple[float, float, float], ...]:
    """Return what the lens of an assumed camera may be, which its `division` and `k1_std` sum up.

    Parameters
    ----------
    camera : Camera
        As of `camera_from_photo`.

    Returns
    -------
    tuple of tuple of float
        Share, mean and standard deviation of the division coefficient of each kind of lens.
    """
    known = (camera.division, camera.k1_std)
    return _MIXTURES.get(known, ((1.0, *known),))


# A stated 35 mm equivalent farther from the listed one: another lens of the telephone's, another mode of an
# action camera.
_SAME_LENS_LOG = 0.15


def _lens_prior(
    focal: "_Focal", frame: _Frame, known: KnownCamera | None, *, nameless: bool
) -> tuple[float, float]:
    """Return mean and standard uncertainty of the division coefficient of a picture of full size."""
    equivalent_mm = focal.focal_px * FULL_FRAME_DIAGONAL_MM / frame.sensor_diagonal_px
    same = known is not None and abs(log(known.equivalent_mm / equivalent_mm)) < _SAME_LENS_LOG
    if same and known is not None and known.division is not None and known.division_std is not None:
        return known.division, known.division_std
    if not focal.assumed and equivalent_mm < _WIDE_ANGLE_MM:
        # Rectangular between the designs, as a webcam's.
        return -0.16, 0.12
    # Phones and cameras correct their pictures; about two per cent remains (k1 from published
    # tests of phone cameras, from memory). A picture without a camera's name may be anything.
    return 0.0, 0.03 if nameless else 0.02


@dataclass(frozen=True, slots=True)
class _Focal:
    focal_px: float
    log_std: float
    source: str
    assumed: bool = False
    cautions: tuple[Caution, ...] = ()


def _focal(frame: _Frame, exif: "ExifFacts | None", known: KnownCamera | None) -> _Focal:
    """Return the focal length and how well it is known."""
    found = _stated_focal(frame, exif, known) if exif is not None else None
    if exif is None or found is None:
        # Diagonal fields of view: phones 75-85°, 26 to 28 mm; webcams and board cameras 55-90°, 35 mm in the
        # middle.
        equivalent_mm = 35.0 if frame.width_px * frame.height_px <= _SMALL_PICTURE_PX else 28.0
        focal_px = frame.sensor_diagonal_px * equivalent_mm / FULL_FRAME_DIAGONAL_MM
        return _Focal(focal_px, _ASSUMED_LOG_STD, "assumed", assumed=True)
    focal_px, log_std, source = found
    log_std = hypot(log_std, frame.log_doubt)
    if exif.focal_mm and exif.focal_mm > 12.0:
        # A lens moved out to focus at half a metre acts as one longer by f/d; one that focuses inside may
        # shorten.
        log_std = hypot(log_std, exif.focal_mm / 500.0)
    if exif.digital_zoom and exif.digital_zoom > 1.0:
        zoomed = Caution.of(CautionCode.DIGITAL_ZOOM)
        return _Focal(focal_px, max(log_std, _ASSUMED_LOG_STD), source, cautions=(zoomed,))
    return _Focal(focal_px, log_std, source)


def _stated_focal(
    frame: _Frame, exif: "ExifFacts", known: KnownCamera | None
) -> tuple[float, float, str] | None:
    """Return focal length in px, its log's standard uncertainty and its source; None if none is plausible."""
    options = []
    if exif.focal_35mm_mm and 5.0 <= exif.focal_35mm_mm <= 2000.0:
        stated = focal_from_equivalent(exif.focal_35mm_mm, frame.width_px, frame.height_px)
        options.append((*stated, "Exif 35 mm equivalent"))
    if exif.focal_mm and exif.focal_plane_px_per_mm:
        focal_px = exif.focal_mm * exif.focal_plane_px_per_mm * frame.resized
        options.append((focal_px, _STATED_LOG_STD, "Exif sensor resolution"))
    if known is not None:
        diagonal_px, doubt = frame_diagonal(
            max(frame.width_px, frame.height_px), min(frame.width_px, frame.height_px)
        )
        focal_px = known.equivalent_mm * diagonal_px / FULL_FRAME_DIAGONAL_MM
        log_std = sqrt(_STATED_LOG_STD**2 + known.equivalent_log_std**2 + doubt**2)
        options.append((focal_px, log_std, "Exif focal length and a database of cameras"))
    for option in options:
        if 0.15 <= option[0] / frame.sensor_diagonal_px <= 50.0:
            return option
    return None
