"""Where an entry of a description stands in its file."""

from csms.sitefile.places import Place
from tests.csms.sitefile.conftest import Describe


def test_entries_and_values_have_their_place(describe: Describe) -> None:
    found = describe(
        ["id: main, limit_a: {L1: 63, L2: 63, L3: 50}", "id: board, fed_from: main, limit_a: 40"],
        ["identity: B1, circuit: board, evses: 2"],
    )
    assert found.of_circuit("main", "limit_a.L3") == ("circuits[0].limit_a.L3", Place(3, 46))
    assert found.of_circuit("board", "device_a") == ("circuits[1].device_a", Place(4, 5))
    assert found.of_station("B1", "evses") == ("stations[0].evses", Place(6, 43))
    assert [evse.number for evse in found.stations[0].numbered()] == [1, 2]
    assert found.of_station("B2") == ("stations", Place(6, 3))
