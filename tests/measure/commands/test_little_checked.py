"""One length alone earns no tick for a whole toy."""

from measure.desk.view.verdict import verdict_json
from measure.record import MeasurementEntry, ObservationEntry, ResultEntry, Specimen
from measure.redo import judge_specimen
from references import shipped_sheet

FERRY = shipped_sheet("saltmarsh-ferry")
WIDTH = MeasurementEntry(
    "m1", "span", None, "bow-plate", "width", "width", result=ResultEntry(177.5, 0.4, 0.8, 1.96)
)


def shown(*noted: ObservationEntry) -> dict[str, object]:
    specimen = Specimen("Ferry", "saltmarsh-ferry", measurements=(WIDTH,), observations=noted)
    return verdict_json(judge_specimen(specimen, FERRY), specimen, FERRY)


def test_one_length_alone_earns_no_tick() -> None:
    view = shown()
    assert (view["sign"], view["mark"]) == ("?", "in-doubt")
    assert view["headline"] == "First release, by 1 of 9 features only: check more"


def test_three_features_on_three_parts_earn_it() -> None:
    view = shown(
        ObservationEntry("lifeboat", "screws", 5), ObservationEntry("paddle-wheel", "axle", "through-rod")
    )
    assert view["sign"] == "✓"
    assert view["headline"] == "First release: everything checked fits together, 3 of 9 features"
