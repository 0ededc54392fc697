"""A folder of certificates as the doors use it."""

from pathlib import Path

import pytest

from csms.clock import ManualClock
from csms.security.tls_service import TlsFolder


@pytest.fixture
def folder(tmp_path: Path, clock: ManualClock) -> TlsFolder:
    return TlsFolder(
        tmp_path, clock, names=("yard.weavers.example", "127.0.0.1"), organization="Weavers' Yard"
    )
