"""Images and their files, on both databases."""

import pytest

from csms.errors import Conflict, InvalidInput, NotFound
from csms.firmware.campaign_service import Campaigns
from csms.firmware.image import Image
from csms.firmware.image_service import FirmwareImages
from tests.csms.firmware.conftest import FIRMWARE, SHA256, parts
from tests.csms.yard import SITE


async def test_the_file_is_found_by_its_address(images: FirmwareImages, image: Image) -> None:
    assert (image.complete, image.size_bytes, image.sha256) == (True, len(FIRMWARE), SHA256)
    path = await images.file_of(image.token)
    assert path is not None
    assert path.read_bytes() == FIRMWARE
    assert await images.file_of("guessed") is None
    assert (await images.list()).items == (image,)


async def test_a_file_that_is_another_is_not_kept(images: FirmwareImages) -> None:
    made = await images.create(version="3.0")
    with pytest.raises(InvalidInput, match="not kept"):
        await images.take(made.id, parts(b"other"), SHA256)
    assert await images.file_of(made.token) is None
    with pytest.raises(InvalidInput, match="64 digits"):
        await images.take(made.id, parts(b"other"), "short")


async def test_what_was_there_stays_what_it_was(images: FirmwareImages, image: Image) -> None:
    with pytest.raises(Conflict, match="there already"):
        await images.take(image.id, parts(FIRMWARE), SHA256)
    with pytest.raises(Conflict):
        await images.create(id=image.id, version="4.0")
    with pytest.raises(NotFound):
        await images.take("moon", parts(FIRMWARE), SHA256)


async def test_it_is_removed_unless_a_campaign_used_it(
    images: FirmwareImages, image: Image, campaigns: Campaigns
) -> None:
    other = await images.create(version="3.0")
    await images.delete(other.id)
    with pytest.raises(NotFound):
        await images.get(other.id)
    await campaigns.create(site_id=SITE, image_id=image.id)
    with pytest.raises(Conflict, match="campaign"):
        await images.delete(image.id)
