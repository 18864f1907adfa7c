"""The ten photographs of the set."""

from __future__ import annotations

import clutter
import toy
from optics import Look
from scenes import (
    DECK_MM,
    FIRST,
    RECAST,
    SECOND,
    Card,
    Shot,
    Span,
    both,
    cap_on_side,
    ferry_on_side,
    house_on_back,
    house_span,
    lay,
    plate_spans,
    tip_span,
    wheel_span,
)


def deck_spans() -> tuple[Span, ...]:
    return plate_spans(FIRST, "plate-", 14.0, 1.5)


SHOTS = [
    Shot(
        id="first-deck", file="first-deck.jpg", seed=101, table="oak", table_turn_deg=8.0,
        caption="A whole ferry of the first release from above, a library card on the fore deck.",
        card=Card("id1", (6.0, 127.0, DECK_MM), 3.0),
        build=lambda: both(toy.ferry(FIRST), lay(clutter.pencil(), -172.0, 112.0, 24.0)),
        size_px=(3264, 2448), focal_35mm=26.3, exif_35mm=26, k1=0.012, principal_point_off_px=(11.0, -8.0),
        view=((8.0, 28.0, DECK_MM), 440.0, 11.0, -12.0, 84.0), light=(40.0, 52.0, 39.6, 0.34, 450.0),
        look=Look(exposure=0.5, white_balance=(1.06, 1.0, 0.93), blur_px=0.63, noise=0.004), quality=84,
        spans=deck_spans(), taken="2024:03:09 10:12:40",
    ),
    Shot(
        id="first-parts", file="first-parts.jpg", seed=102, table="grey-felt", table_turn_deg=0.0,
        caption="Wheelhouse and funnel cap of the first release on felt, beside a picture card.",
        card=Card("trading", (80.0, 3.0, 0.0), -5.0),
        build=lambda: both(house_on_back(FIRST.house_height, -6.0, -41.0, 183.0), cap_on_side(FIRST.tip_radius, -84.0, -18.0, 158.0)),
        size_px=(4000, 3000), focal_35mm=52.6, exif_35mm=52, k1=-0.025, principal_point_off_px=(-9.0, 6.0),
        view=((6.0, 0.0, 10.0), 420.0, 7.0, 30.0, -27.0), light=(130.0, 50.0, 36.0, 0.37, 500.0),
        look=Look(exposure=0.5, white_balance=(1.0, 1.0, 1.02), blur_px=0.58, noise=0.004), quality=86,
        spans=(house_span(FIRST, 40.0, 2.0), tip_span(FIRST, 12.0, 2.0)), taken="2024:03:09 10:20:05",
        camera_name=("Halyard", "Dory 3 Pro"), aperture_mm=0.8,
    ),
    Shot(
        id="second-parts", file="second-parts.jpg", seed=103, table="walnut", table_turn_deg=90.0,
        caption="Bow plate, lifeboat and paddle wheel of the second release, sent loose by a dealer.",
        card=Card("trading", (4.0, -40.0, 0.0), 92.0),
        build=lambda: both(
            lay(toy.bow_plate(SECOND.plate_width, SECOND.plate_depth), 0.0, 38.0, 2.0, prefix="plate-"),
            lay(toy.lifeboat(SECOND.screws), 98.0, -42.0, 24.0),
            lay(toy.paddle_wheel(SECOND.wheel_diameter, SECOND.axle), -104.0, -44.0, 17.0, prefix="wheel-"),
        ),
        size_px=(3300, 2200), focal_35mm=50.6, exif_35mm=50, k1=-0.030, principal_point_off_px=(14.0, 10.0),
        view=((0.0, -10.0, 0.0), 480.0, 6.0, 10.0, -6.0), light=(70.0, 48.0, 32.4, 0.37, 450.0),
        look=Look(exposure=0.64, white_balance=(0.97, 1.0, 1.07), blur_px=0.53, noise=0.004, sharpen=0.2), quality=87,
        spans=(*plate_spans(SECOND, "plate-", 14.0, 1.0), wheel_span(SECOND.wheel_diameter, "wheel-rim", 15.5, 1.0)),
        taken="2023:11:18 14:41:17", camera_name=("Corvane", "R-40"), aperture_mm=1.6,
    ),
    Shot(
        id="second-rise", file="second-rise.jpg", seed=104, table="blue-linen", table_turn_deg=15.0,
        caption="A ferry of the second release standing on a cloth, seen from over the bow; the card lies on the deck.",
        card=Card("id1", (-4.0, 122.0, DECK_MM), 182.0), build=lambda: both(toy.ferry(SECOND), lay(clutter.polish_tin(), 182.0, 40.0, 150.0)),
        size_px=(2448, 3264), focal_35mm=25.6, exif_35mm=26, k1=0.008, principal_point_off_px=(-12.0, 15.0),
        view=((0.0, 52.0, 66.0), 450.0, 35.0, 173.0, 1.0), light=(100.0, 50.0, 37.8, 0.37, 450.0),
        look=Look(exposure=0.52, white_balance=(1.03, 1.0, 0.97), blur_px=0.68, noise=0.004), quality=83,
        spans=(Span("house", "Wheelhouse, height", "rise", "wheelhouse", "height", ("house-deck", "house-roof"), SECOND.house_height, -0.76, 0.3),),
        taken="2023:11:18 15:02:51",
    ),
    Shot(
        id="mixed-bow", file="mixed-bow.jpg", seed=105, table="pine", table_turn_deg=96.0,
        caption="The bow of a first-release hull that carries a second-release plate; held upright, so the camera noted a turn.",
        card=Card("id1", (10.0, 126.0, DECK_MM), -6.0), build=lambda: toy.ferry(FIRST, SECOND),
        size_px=(2448, 3264), focal_35mm=26.1, exif_35mm=26, k1=0.015, principal_point_off_px=(14.0, 8.0), orientation=6,
        view=((0.0, 112.0, DECK_MM), 385.0, 16.0, 8.0, -2.0), light=(20.0, 50.0, 36.0, 0.37, 450.0),
        look=Look(exposure=0.5, white_balance=(1.05, 1.0, 0.94), blur_px=0.68, noise=0.004), quality=83,
        spans=plate_spans(SECOND, "plate-", 14.0, 1.5), taken="2024:05:26 18:33:09",
    ),
    Shot(
        id="mixed-side", file="mixed-side.jpg", seed=106, table="oak", table_turn_deg=-4.0,
        caption="The same ferry on its side, the card on the hull beside the paddle wheel.",
        card=Card("id1", (104.0, -35.0, 220.8), 2.0), build=lambda: both(ferry_on_side(FIRST, 90.0), lay(clutter.polish_tin(), 170.0, -215.0, -8.0)),
        size_px=(3264, 2448), focal_35mm=26.1, exif_35mm=26, k1=0.015, principal_point_off_px=(8.0, -14.0),
        view=((14.0, -25.0, 221.0), 365.0, 13.0, -14.0, 9.0), light=(60.0, 52.0, 36.0, 0.37, 450.0),
        look=Look(exposure=0.5, white_balance=(1.05, 1.0, 0.94), blur_px=0.68, noise=0.004), quality=82,
        spans=(wheel_span(FIRST.wheel_diameter, "starboard-rim", 17.0, 1.5),), taken="2024:05:26 18:35:44",
    ),
    Shot(
        id="mixed-house", file="mixed-house.jpg", seed=107, table="pine", table_turn_deg=80.0,
        caption="Wheelhouse and funnel cap of the same ferry beside a sheet of paper, the parts list.",
        card=Card("a4", (72.0, -6.0, 0.0), 4.0),
        build=lambda: both(house_on_back(FIRST.house_height, -92.0, -12.0, 174.0), cap_on_side(FIRST.tip_radius, -96.0, -48.0, 15.0), lay(clutter.pencil(), 92.0, -84.0, 62.0, lift=0.1)),
        size_px=(3264, 2448), focal_35mm=26.1, exif_35mm=26, k1=0.015, principal_point_off_px=(8.0, -14.0),
        view=((22.0, -2.0, 8.0), 450.0, 24.0, 12.0, -10.0), light=(35.0, 50.0, 32.4, 0.37, 450.0),
        look=Look(exposure=0.44, white_balance=(1.05, 1.0, 0.94), blur_px=0.63, noise=0.004), quality=83,
        spans=(house_span(FIRST, 40.5, 1.0), tip_span(FIRST, 12.5, 1.0)), taken="2024:05:26 18:41:20",
    ),
    Shot(
        id="recast-plate", file="recast-plate.jpg", seed=108, table="green-felt", table_turn_deg=0.0,
        caption="A bow plate sold as an original: a later cast, 1.8 % small. The picture came without camera data.",
        card=Card("id1", (-6.0, -36.0, 0.0), -4.0),
        build=lambda: lay(toy.bow_plate(FIRST.plate_width, FIRST.plate_depth, RECAST), 0.0, 16.0, -3.0, prefix="plate-"),
        size_px=(2592, 1944), focal_35mm=38.6, exif_35mm=None, k1=0.02, principal_point_off_px=(6.0, 9.0),
        view=((0.0, -6.0, 0.0), 390.0, 20.0, -15.0, 2.0), light=(110.0, 46.0, 36.0, 0.34, 400.0),
        look=Look(exposure=0.64, white_balance=(1.04, 1.0, 0.95), blur_px=0.68, noise=0.004), quality=86,
        spans=plate_spans(FIRST, "plate-", 13.5, 1.0, RECAST), camera_name=("", ""), taken="",
    ),
    Shot(
        id="recast-close", file="recast-close.jpg", seed=109, table="linen", table_turn_deg=5.0,
        caption="The same plate from straight above, with a picture card.",
        card=Card("trading", (3.0, -48.0, 0.0), 88.0),
        build=lambda: lay(toy.bow_plate(FIRST.plate_width, FIRST.plate_depth, RECAST), 0.0, 4.0, 1.0, prefix="plate-"),
        size_px=(3264, 2448), focal_35mm=52.6, exif_35mm=52, k1=-0.025, principal_point_off_px=(-7.0, -10.0),
        view=((0.0, -22.0, 0.0), 400.0, 3.0, 40.0, -42.0), light=(60.0, 50.0, 32.4, 0.37, 450.0),
        look=Look(exposure=0.47, white_balance=(1.0, 1.0, 1.0), blur_px=0.58, noise=0.004), quality=85,
        spans=plate_spans(FIRST, "plate-", 13.5, 1.0, RECAST), camera_name=("Halyard", "Dory 3 Pro"), taken="2024:06:02 09:15:31",
    ),
    Shot(
        id="no-card", file="no-card.jpg", seed=110, table="walnut", table_turn_deg=84.0,
        caption="A dealer's picture of a ferry of the second release, with nothing of known size in it.",
        card=None, build=lambda: lay(toy.ferry(SECOND), 0.0, 0.0, 62.0),
        size_px=(3300, 2200), focal_35mm=50.4, exif_35mm=50, k1=-0.01, principal_point_off_px=(0.0, 0.0),
        view=((10.0, 0.0, 45.0), 880.0, 50.0, 12.0, 0.0), light=(150.0, 45.0, 36.0, 0.37, 500.0),
        look=Look(exposure=0.54, white_balance=(1.0, 1.0, 1.0), blur_px=0.58, noise=0.004, sharpen=0.2), quality=85,
        taken="2023:10:02 11:20:00", camera_name=("Corvane", "R-40"), aperture_mm=2.0,
    ),
]  # fmt: skip
