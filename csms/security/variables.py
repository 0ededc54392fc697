"""Where stations keep what belongs to security, by version. Pure.

OCPP 1.6: configuration keys (security white paper, 4.2); 2.x: SecurityCtrlr and OCPPCommCtrlr of the
device model (part 2, appendix 3).
"""


def is_16(protocol: str) -> bool:
    return protocol == "1.6"


def key_path(protocol: str) -> str:
    """The variable that holds the key of HTTP Basic."""
    return "/AuthorizationKey" if is_16(protocol) else "SecurityCtrlr/BasicAuthPassword"


def profile_path(protocol: str) -> str:
    return "/SecurityProfile" if is_16(protocol) else "SecurityCtrlr/SecurityProfile"


PRIORITY_PATH = "OCPPCommCtrlr/NetworkConfigurationPriority"
"""Slots of network profiles in the order in which they are tried, e.g. `1,2`."""

LAST_SLOT = 9


def new_priority(now: str | None) -> tuple[int, str]:
    """A slot that is not in use, and the priority with it in front; `now` is what the station told."""
    used = [part.strip() for part in (now or "1").split(",") if part.strip()]
    slot = next(number for number in range(1, LAST_SLOT + 2) if str(number) not in used)
    return slot, ",".join([str(slot), *used])
