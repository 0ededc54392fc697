"""The ledger's services are tied to each other."""

from csms.app import Central
from csms.ledger.service import Ledger
from csms.settings import Settings


def test_central_has_a_ledger_whose_services_share_one_set_of_terms() -> None:
    ledger = Central(Settings(database_url="sqlite+aiosqlite:///unused.db")).ledger
    assert isinstance(ledger, Ledger)
    assert ledger.pools._billing is ledger.billing
    assert ledger.payments._billing is ledger.billing
    assert ledger.books._gathering is ledger.issuing._preparing._gathering
