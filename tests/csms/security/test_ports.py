"""What the rest gives fits the ports."""

from csms.gateway.registry import Registry
from csms.security.ports import Commands


def test_the_registry_asks_stations() -> None:
    def fits(_commands: Commands) -> None:
        """The types say it; mypy looks at this call."""

    assert callable(Registry.ask)
    fits(Registry(None))  # type: ignore[arg-type]
