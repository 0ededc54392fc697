"""Images: written down, their file taken in and checked, found by the address that stations use."""

from collections.abc import AsyncIterable
from dataclasses import replace
from pathlib import Path

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.firmware import repository
from csms.firmware.file_service import Files, new_token
from csms.firmware.image import Image, check_image, check_sha256
from csms.ids import new_id
from csms.store.database import Database
from csms.store.paging import Page


class FirmwareImages:
    """Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock, files: Files) -> None:
        self._database = database
        self._clock = clock
        self._files = files

    async def create(
        self,
        *,
        version: str,
        vendor: str = "",
        model: str = "",
        signing_certificate: str = "",
        signature: str = "",
        id: str | None = None,
    ) -> Image:
        """An image whose file is still to come."""
        image = check_image(
            Image(
                id=new_id("img") if id is None else id,
                vendor=vendor,
                model=model,
                version=version,
                signing_certificate=signing_certificate,
                signature=signature,
                token=new_token(),
                created_at=self._clock.now(),
            )
        )
        async with self._database.write() as connection:
            await repository.insert_image(connection, image)
        return image

    async def take(self, image_id: str, parts: AsyncIterable[bytes], sha256: str) -> Image:
        """The file. InvalidInput when it is not the one with that checksum; then nothing is kept. An image
        whose file is there takes no other: what was rolled out must stay what it was."""
        wanted = check_sha256("sha256", sha256)
        image = await self.get(image_id)
        if image.complete:
            raise Conflict("its file is there already; make a new image for another file")
        kept = await self._files.take(image_id, parts)
        if kept.sha256 != wanted:
            await self._files.remove(image_id)
            raise InvalidInput("sha256", f"the file that came has {kept.sha256}; it is not kept")
        image = replace(image, sha256=kept.sha256, size_bytes=kept.size_bytes)
        async with self._database.write() as connection:
            await repository.update_image(connection, image)
        return image

    async def get(self, image_id: str) -> Image:
        async with self._database.read() as connection:
            return await repository.get_image(connection, image_id)

    async def list(self, *, after: str | None = None, limit: int = 50) -> Page[Image]:
        async with self._database.read() as connection:
            return await repository.list_images(connection, after=after, limit=limit)

    async def delete(self, image_id: str) -> None:
        """Conflict once a campaign has used it."""
        async with self._database.write() as connection:
            await repository.get_image(connection, image_id)
            await repository.delete_image(connection, image_id)
        await self._files.remove(image_id)

    async def file_of(self, token: str) -> Path | None:
        """The file under a station's address; None when there is none."""
        async with self._database.read() as connection:
            image = await repository.image_by_token(connection, token)
        return self._files.path(image.id) if image is not None and image.complete else None
