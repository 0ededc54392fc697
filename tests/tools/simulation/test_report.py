import json
from xml.etree import ElementTree

from tools.simulation.picture import picture
from tools.simulation.report import report, text
from tools.simulation.world import Outcomes

SVG = "{http://www.w3.org/2000/svg}"


def test_the_figures_fit_together(troubled: Outcomes) -> None:
    found = report(troubled)
    assert found.delivered_kwh <= found.best_kwh <= found.needed_kwh + 1e-6
    assert found.cars == len(troubled.stays) == 6
    assert found.messages_per_station_hour >= found.live_per_station_hour > 0
    assert json.loads(json.dumps(found.as_json()))["safe"] is found.safe
    assert f"{found.delivered_kwh:.1f} of {found.best_kwh:.1f}" in text(found)


def test_the_picture_shows_every_line_limit_and_car(troubled: Outcomes) -> None:
    root = ElementTree.fromstring(picture(troubled))
    assert root.tag == f"{SVG}svg"
    words = [element.text or "" for element in root.iter(f"{SVG}text")]
    assert {"limit 32 A", "limit 25 A"} <= set(words)
    assert len(list(root.iter(f"{SVG}polyline"))) == 6, "three lines of two circuits"
    titles = [element.text or "" for element in root.iter(f"{SVG}title")]
    assert sum("kWh" in title for title in titles) == 6
