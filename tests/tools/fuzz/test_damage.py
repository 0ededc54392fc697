import json
from random import Random

from tools.fuzz import damage

PARTS = [
    2,
    "m1",
    "MeterValues",
    {"connectorId": 1, "meterValue": [{"timestamp": "t", "sampledValue": [{"value": "1"}]}]},
]


def test_the_same_seed_does_the_same_and_the_original_stays() -> None:
    before = json.dumps(PARTS)
    first = [damage.frame(PARTS, random) for random in [Random(7)] for _ in range(300)]
    again = [damage.frame(PARTS, random) for random in [Random(7)] for _ in range(300)]
    assert first == again
    assert json.dumps(PARTS) == before


def test_every_sort_of_damage_comes_about() -> None:
    random = Random(3)
    told = [damage.frame(PARTS, random) for _ in range(2_000)]
    texts = [each for each in told if isinstance(each, str)]
    assert len(texts) < len(told), "bytes"
    assert any(text == json.dumps(PARTS) for text in texts), "some are left as they are"
    assert any("\ufffd" in text or "\x00" in text for text in texts)
    assert any(len(text) > 50_000 for text in texts)
    assert any(text.startswith("[2") and not text.endswith("]") for text in texts)
    readable = 0
    for text in texts:
        try:
            json.loads(text)
        except ValueError:
            continue
        except RecursionError:
            continue
        readable += 1
    assert 0.5 < readable / len(texts) < 0.95


def test_places_are_all_and_deep() -> None:
    found = set(damage.places(PARTS[3]))
    assert ("meterValue", 0, "sampledValue", 0, "value") in found
    assert ("connectorId",) in found
    assert len(found) == 7
