"""Which of a site's EVSEs somebody means."""

from csms.power.installation import LINES, Circuit, Evse, Installation, System, Wiring
from csms.power.steering.evse_of import evse_of
from csms.power.steering.state import new_site


def test_without_a_number_only_the_one_that_there_is() -> None:
    evses = (Evse("B1", 1), Evse("B2", 1), Evse("B2", 2))
    site = new_site(
        Installation(
            system=System.TN_400,
            circuits=(Circuit(id="main", limit_a=dict.fromkeys(LINES, 63.0)),),
            wirings=tuple(Wiring(evse=evse, circuit="main") for evse in evses),
        )
    )
    assert evse_of(site, "B1", None) == Evse("B1", 1)
    assert evse_of(site, "B2", None) is None
    assert evse_of(site, "B2", 2) == Evse("B2", 2)
    assert evse_of(site, "B3", None) is None
