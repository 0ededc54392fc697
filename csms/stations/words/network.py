"""How a station reaches us, and what it has not yet told of a transaction (OCPP blocks B and E)."""

from dataclasses import dataclass
from enum import StrEnum


class NetworkInterface(StrEnum):
    WIRED0 = "wired0"
    WIRED1 = "wired1"
    WIRED2 = "wired2"
    WIRED3 = "wired3"
    WIRELESS0 = "wireless0"
    WIRELESS1 = "wireless1"
    WIRELESS2 = "wireless2"
    WIRELESS3 = "wireless3"
    ANY = "any"


class ApnAuthentication(StrEnum):
    PAP = "pap"
    CHAP = "chap"
    NONE = "none"
    AUTO = "auto"


class VpnKind(StrEnum):
    IKEV2 = "ikev2"
    IPSEC = "ipsec"
    L2TP = "l2tp"
    PPTP = "pptp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Apn:
    """The access point of a mobile network."""

    apn: str
    authentication: ApnAuthentication = ApnAuthentication.AUTO
    user_name: str = ""
    password: str = ""
    sim_pin: int | None = None
    preferred_network: str = ""
    use_only_preferred_network: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Vpn:
    server: str
    user: str
    password: str
    shared_key: str
    kind: VpnKind
    group: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetNetworkProfile:
    """Put into `slot` how we are reached: `url` without the station's identity, security profile 0 to 3.

    It takes effect when the slot is chosen and the station restarts. `identity` and `password` need
    OCPP 2.1.
    """

    slot: int
    url: str
    security_profile: int
    message_timeout_s: int = 30
    interface: NetworkInterface = NetworkInterface.WIRED0
    identity: str = ""
    password: str = ""
    apn: Apn | None = None
    vpn: Vpn | None = None


@dataclass(frozen=True, slots=True)
class GetTransactionStatus:
    """`data`: TransactionStatus. Empty id: is anything at all not told yet?"""

    transaction_id: str = ""


@dataclass(frozen=True, slots=True)
class TransactionStatus:
    """`ongoing` None: not asked for one. `queued`: messages still wait at the station."""

    queued: bool
    ongoing: bool | None = None
