"""Several cards in one fit, as irregular as their own disagreement shows them to be."""

from collections.abc import Sequence
from dataclasses import replace

from calibration.camera import Camera
from calibration.cards.found_card import FoundCard
from calibration.plane import (
    Correspondences,
    Plane,
    PlumbLine,
    correspondences_of_object,
    fit_plane_correspondences,
)

# Cards in photographs need up to 1.8 times the usual irregularity to agree; those that need more contradict
# each other.
USUAL_IRREGULARITY = 2.0
_MOST_IRREGULARITY = 8.0
_CLOSE_ENOUGH, _MOST_ROUNDS = 0.1, 6


def fit_cards(
    camera: Camera,
    cards: Sequence[FoundCard],
    lines: Sequence[PlumbLine] = (),
    *,
    irregularity_ratio: float = 1.0,
) -> Plane:
    """Fit one plane to cards and sheets.

    Parameters
    ----------
    camera : Camera
        The photo's.
    cards : sequence of FoundCard
        At least one; the first defines the frame.
    lines : sequence of PlumbLine
        Edges that are straight in the scene.
    irregularity_ratio : float
        How many times their usual irregularity (`ReferenceObject.outline_std_mm`) the cards have.

    Returns
    -------
    Plane
        In the first one's frame.

    Raises
    ------
    GeometryError
        No plane fits.
    """
    matched = [
        correspondences_of_card(
            _with_irregularity(card, irregularity_ratio),
            card.object.thickness_mm - cards[0].object.thickness_mm,
        )
        for card in cards
    ]
    return fit_plane_correspondences(camera, matched, cards[0].object, lines=lines)


def fit_irregular(
    camera: Camera, cards: Sequence[FoundCard], lines: Sequence[PlumbLine] = ()
) -> tuple[Plane, float]:
    """Fit one plane to cards, each as irregular as makes them agree.

    Parameters
    ----------
    camera : Camera
        The photo's.
    cards : sequence of FoundCard
        At least two.
    lines : sequence of PlumbLine
        Edges that are straight in the scene.

    Returns
    -------
    plane : Plane
        In the first one's frame.
    irregularity_ratio : float
        How many times the usual irregularity it took, 1 to 8; 1 where they agree with that.

    Raises
    ------
    GeometryError
        No plane fits.

    Notes
    -----
    Mandel and Paule's estimate of the variance between what should be equal: the one by which chi-squared
    becomes its degrees of freedom.

    References
    ----------
    R. C. Paule, J. Mandel, Consensus values and weighting factors, Journal of Research of the National Bureau
    of Standards 87(5), 1982.
    """
    share = 1.0
    for _ in range(_MOST_ROUNDS):
        plane = fit_cards(camera, cards, lines, irregularity_ratio=share)
        ratio = plane.chi2 / plane.degrees_of_freedom
        # Chi-squared falls a little slower than the variance that it is divided by grows.
        further = float(min(max(share * ratio**0.6, 1.0), _MOST_IRREGULARITY))
        if abs(ratio - 1.0) < _CLOSE_ENOUGH or further == share:
            break
        share = further
    return plane, share


def _with_irregularity(card: FoundCard, share: float) -> FoundCard:
    if share == 1.0:
        return card
    return replace(card, object=replace(card.object, outline_std_mm=share * card.object.outline_std_mm))


def correspondences_of_card(card: FoundCard, height_mm: float) -> Correspondences:
    """Return a card's four corners as a joint fit takes them.

    Parameters
    ----------
    card : FoundCard
        The card.
    height_mm : float
        Height of its face above that of the fit's first reference, toward the camera.

    Returns
    -------
    Correspondences
        Its corners, size and irregularity.
    """
    plain = correspondences_of_object(card.object, card.corners_px, card.corners_cov_px2)
    return replace(plain, height_mm=height_mm)
