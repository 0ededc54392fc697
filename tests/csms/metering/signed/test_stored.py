from csms.metering.signed.proof import Proof, Result
from csms.metering.signed.stored import SignedSession


def test_a_session_without_records_is_empty() -> None:
    nothing = SignedSession(Proof(Result.NONE, ()), ())
    assert (nothing.records, nothing.proof.energy_wh) == ((), None)
