"""Where dimension lines and their figures go: beside the part, clear of other parts, inside the frame."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from measure.writeup.draw.busy import BusyMap
from measure.writeup.draw.planar import Points, box, grown, hull, inside, overlap, strip
from measure.writeup.draw.taken import TakenMap

# With more than these in one picture, figures and long lines would hide it: it shows only keys.
MOST_LABELS = 10
# A label that needs longer lines than this, or lines across more objects, is worth less than its key.
_MOST_COST = 16.0


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """One measurement to be drawn.

    Attributes
    ----------
    key : str
        Number in the list below the picture.
    ends_px : (2, 2) array, px
        Where the dimension begins and ends on the part.
    part_px : (N, 2) array, px
        Every measured point of the same part; its hull is kept free.
    label_px : (width, height)
        Room that the figures need.
    tag_px : (width, height)
        Room for the key alone.
    pointed : bool
        A leader to one point (a radius) and no dimension line.
    """

    key: str
    ends_px: Points
    part_px: Points
    label_px: tuple[float, float]
    tag_px: tuple[float, float]
    pointed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A figure with its place in the picture; all coordinates in px.

    Attributes
    ----------
    line_px : (2, 2) array or None
        Ends of the dimension line; None for a leader alone.
    centre_px, size_px : (2,) array; (width, height)
        Of the text.
    leader_px : (2, 2) array or None
        From the dimension to its text, where the text stands apart.
    tagged : bool
        Only the key is shown in the picture; the figures stand in the list below it.
    """

    figure: Figure
    line_px: Points | None
    centre_px: Points
    size_px: tuple[float, float]
    leader_px: Points | None
    tagged: bool

    @property
    def text_px(self) -> Points:
        """Corners of the text's rectangle."""
        return box(self.centre_px, *self.size_px)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """The picture that is drawn on.

    Attributes
    ----------
    width_px, height_px : float
        Its frame.
    busy : BusyMap
        Where the photo shows more than background.
    unit_px : float
        Height of a line of text; gaps and arrows follow from it.
    taken : TakenMap
        What no text may cover.
    parts, texts, lines : TakenMap
        Measured parts, and text and lines placed so far, which further lines should not cross.
    """

    width_px: float
    height_px: float
    busy: BusyMap
    unit_px: float
    taken: TakenMap
    parts: TakenMap
    texts: TakenMap
    lines: TakenMap

    @classmethod
    def blank(cls, width_px: float, height_px: float, busy: BusyMap, unit_px: float) -> "Sheet":
        """Return a sheet with nothing on it."""
        free = TakenMap(width_px, height_px)
        return cls(width_px, height_px, busy, unit_px, free, free, free, free)

    def fits(self, shape_px: Points) -> bool:
        """Tell whether text may stand there."""
        within = inside(shape_px, self.width_px, self.height_px, 0.3 * self.unit_px)
        return within and self.taken.is_free(shape_px)

    def without(self, *shapes_px: Points) -> "Sheet":
        """Return the sheet with more places taken."""
        return replace(self, taken=self.taken.with_more(*shapes_px))

    def holding(self, placed: "Placed", gap_px: float) -> "Sheet":
        """Return the sheet with a figure on it."""
        text = grown(placed.text_px, gap_px)
        strips = tuple(strip(line[0], line[1], gap_px) for line in _lines(placed))
        return replace(
            self,
            taken=self.taken.with_more(text, *strips),
            texts=self.texts.with_more(text),
            lines=self.lines.with_more(*_drawn_lines(placed)),
        )


def place(figures: tuple[Figure, ...], sheet: Sheet) -> tuple[Placed, ...]:
    """Give every figure its place, short dimensions first so that they lie nearest to the part.

    Parameters
    ----------
    figures : tuple of Figure
        In any order.
    sheet : Sheet
        Frame, background and places already taken.

    Returns
    -------
    tuple of Placed
        In the order of `figures`. No text covers a measured part, another text or the frame; where the full
        text has no room the figure is tagged with its key.
    """
    gap_px = 0.25 * sheet.unit_px
    crowded = len(figures) > MOST_LABELS
    parts = tuple(grown(hull(figure.part_px), gap_px) for figure in figures)
    taken = replace(sheet.without(*parts), parts=sheet.parts.with_more(*parts))
    order = sorted(range(len(figures)), key=lambda i: (_length_px(figures[i]), i))
    found: dict[int, Placed] = {}
    for index in order:
        placed = _best(figures[index], taken, crowded=crowded)
        found[index] = placed
        taken = taken.holding(placed, gap_px)
    return tuple(found[index] for index in range(len(figures)))


def _length_px(figure: Figure) -> float:
    return float(np.hypot(*(figure.ends_px[1] - figure.ends_px[0])))


def _best(figure: Figure, sheet: Sheet, *, crowded: bool) -> Placed:
    # First the background; then anything outside all measured points; then only the key, which always fits.
    passes = ((False, 0.02, False), (False, 1.0, True), (True, 1.0, False))
    for tagged, most_busy, whole in passes[-1:] if crowded else passes:
        best, least = None, np.inf
        for cost, placed in _candidates(figure, sheet, tagged):
            if cost >= least:
                break  # all later costs are larger
            busy = sheet.busy.share(placed.text_px)
            if busy > most_busy or (whole and overlap(placed.text_px, sheet.busy.subject_px)):
                continue
            total = cost + 4.0 * busy + _clutter(placed, sheet)
            if total < least and (tagged or total <= _MOST_COST):
                best, least = placed, total
        if best is not None:
            return best
    return _anywhere(figure, sheet)


def _candidates(figure: Figure, sheet: Sheet, tagged: bool) -> Iterator[tuple[float, Placed]]:
    """Yield the places where text and lines fit, nearest to the part first."""
    size_px = figure.tag_px if tagged else figure.label_px
    makers = (_led,) if figure.pointed else (_beside, _led)
    offers = [offer for maker in makers for offer in maker(figure, sheet.unit_px, size_px, tagged)]
    for cost, placed in sorted(offers, key=lambda offer: offer[0]):
        if sheet.fits(placed.text_px) and _lines_fit(placed, sheet):
            yield cost, placed


def _lines(placed: Placed) -> tuple[Points, ...]:
    return tuple(line for line in (placed.line_px, placed.leader_px) if line is not None)


def _lines_fit(placed: Placed, sheet: Sheet) -> bool:
    return all(inside(line, sheet.width_px, sheet.height_px, 2.0) for line in _lines(placed))


def _clutter(placed: Placed, sheet: Sheet) -> float:
    """Return the cost of lines over the subject, and across other figures and lines."""
    cost = 9.0 * sheet.busy.along(placed.line_px) if placed.line_px is not None else 0.0
    if placed.leader_px is not None:
        cost += 4.0 * sheet.parts.crossings(placed.leader_px)
        cost += 2.0 * sheet.busy.along(placed.leader_px)
    for line in _drawn_lines(placed):
        cost += (
            8.0 * sheet.texts.crossings(line)
            + 2.0 * sheet.lines.crossings(line)
            + 2.0 * sheet.parts.crossings(line)
        )
    return cost


def _drawn_lines(placed: Placed) -> tuple[Points, ...]:
    lines = list(_lines(placed))
    if placed.line_px is not None:
        lines += [np.array(pair) for pair in zip(placed.figure.ends_px, placed.line_px, strict=True)]
        if placed.leader_px is None:
            lines.append(np.array([placed.line_px.mean(axis=0), placed.centre_px]))
    return tuple(lines)


def _beside(
    figure: Figure, unit_px: float, size_px: tuple[float, float], tagged: bool
) -> Iterator[tuple[float, Placed]]:
    # A dimension line parallel to the span, clear of the part; text in its middle or past one end.
    start, end = figure.ends_px
    length_px = max(_length_px(figure), 1e-6)
    along = (end - start) / length_px
    for side in (1.0, -1.0):
        normal = side * np.array([along[1], -along[0]])
        clear_px = max(float(((figure.part_px - start) @ normal).max()), 0.0)
        for step in range(10):
            off_px = clear_px + unit_px * 0.8 * 1.3**step
            line = figure.ends_px + normal * off_px
            for extra, centre in _along_line(line, along, length_px, size_px, unit_px):
                cost = off_px / unit_px + extra
                yield cost, Placed(figure, line, centre, size_px, None, tagged)


def _along_line(
    line: Points, along: Points, length_px: float, size_px: tuple[float, float], unit_px: float
) -> Iterator[tuple[float, Points]]:
    half_px = abs(along[0]) * size_px[0] / 2.0 + abs(along[1]) * size_px[1] / 2.0
    middle = line.mean(axis=0)
    if length_px > 2.0 * half_px + 2.0 * unit_px:
        yield 0.0, middle
    # An upright rectangle's extent along a slanted line is less than its diagonal: use the larger.
    reach_px = max(half_px, min(size_px) / 2.0) + unit_px
    yield 1.5, line[1] + along * reach_px
    yield 1.5, line[0] - along * reach_px


def _led(
    figure: Figure, unit_px: float, size_px: tuple[float, float], tagged: bool
) -> Iterator[tuple[float, Placed]]:
    # Text apart, joined by a leader to the dimension (or to the place pointed at).
    for root, line in _roots(figure, unit_px):
        for ring in range(1, 9 if tagged else 5):
            for turn in np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False):
                way = np.array([np.cos(turn), np.sin(turn)])
                reach_px = abs(way[0]) * size_px[0] / 2.0 + abs(way[1]) * size_px[1] / 2.0
                centre = root + way * (reach_px + unit_px * (0.6 + 1.2 * ring))
                leader = np.array([root, centre - way * reach_px])
                leader[1] = np.clip(leader[1], centre - np.array(size_px) / 2, centre + np.array(size_px) / 2)
                yield 5.0 + 1.5 * ring, Placed(figure, line, centre, size_px, leader, tagged)


def _roots(figure: Figure, unit_px: float) -> Iterator[tuple[Points, Points | None]]:
    if figure.pointed:
        yield figure.ends_px[1], None
        return
    start, end = figure.ends_px
    along = (end - start) / max(_length_px(figure), 1e-6)
    for side in (1.0, -1.0):
        normal = side * np.array([along[1], -along[0]])
        clear_px = max(float(((figure.part_px - start) @ normal).max()), 0.0)
        line = figure.ends_px + normal * (clear_px + 0.8 * unit_px)
        yield line.mean(axis=0), line
    yield figure.ends_px.mean(axis=0), figure.ends_px


def _anywhere(figure: Figure, sheet: Sheet) -> Placed:
    """Put the key at the nearest free place of a grid over the whole picture."""
    root = figure.ends_px[1] if figure.pointed else figure.ends_px.mean(axis=0)
    line = None if figure.pointed else figure.ends_px
    width_px, height_px = figure.tag_px
    xs = np.arange(width_px, sheet.width_px - width_px / 2.0, width_px / 2.0)
    ys = np.arange(height_px, sheet.height_px - height_px / 2.0, height_px / 2.0)
    grid = np.array([[x, y] for y in ys for x in xs]).reshape(-1, 2)
    for centre in grid[np.argsort(np.hypot(*(grid - root).T), kind="stable")]:
        if sheet.fits(box(centre, width_px, height_px)):
            return Placed(figure, line, centre, figure.tag_px, np.array([root, centre]), True)
    # The measured parts fill the whole picture: the key stands at the figure's own place.
    return Placed(figure, line, root, figure.tag_px, None, True)
