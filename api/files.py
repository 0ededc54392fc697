"""What chargers fetch and send by HTTP: firmware and logs, under addresses that cannot be guessed.

No key: a charger has none for the web. The address is the secret; it is made for one image, or for one
log that was asked for and is taken once.
"""

from email.message import Message

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from api.deps import TheCentral
from api.fields import Id
from csms.errors import Conflict, InvalidInput, NotFound

router = APIRouter(prefix="/files", include_in_schema=False)


@router.get("/firmware/{token}")
async def fetch(central: TheCentral, token: Id) -> Response:
    """The image; parts of it as well (Range), so that a broken download goes on."""
    path = await central.firmware.images.file_of(token)
    if path is None or not path.is_file():
        return Response("There is nothing here.\n", 404, media_type="text/plain")
    return FileResponse(path, media_type="application/octet-stream")


@router.put("/logs/{token}")
@router.post("/logs/{token}")
async def send(central: TheCentral, request: Request, token: Id) -> Response:
    """A log, whole and in one request."""
    try:
        log = await central.firmware.logs.take(token, request.stream(), _file_name(request))
    except NotFound:
        return Response("Nothing was asked for here, or it has come already.\n", 404, media_type="text/plain")
    except InvalidInput as error:
        return Response(f"Not taken: {error}.\n", 413, media_type="text/plain")
    except Conflict as error:
        return Response(f"Not taken: {error}.\n", 409, media_type="text/plain")
    return Response(f"Taken: {log.size_bytes} bytes.\n", 201, media_type="text/plain")


def _file_name(request: Request) -> str:
    header = Message()
    header["Content-Disposition"] = request.headers.get("content-disposition", "")
    return str(header.get_filename() or "")
