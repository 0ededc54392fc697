"""The web application: REST under `/v1`, and the pages."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from api import errors, files, v1
from api.auth import bearer
from api.deps import Central
from api.web.routes import add_pages

DESCRIPTION = """Sites, chargers, members, sessions, tariffs and the power of one supply.

Every request needs a key: `Authorization: Bearer py_…`. Times carry their zone and go out in UTC.
Currents are in A per line, energies in Wh. Amounts of money are decimal text. Lists come in
pages, `{"items": […], "next": …}`. Refusals are `application/problem+json` (RFC 9457).
"""


class _App(FastAPI):
    """An application whose OpenAPI document knows our problems."""

    def openapi(self) -> dict[str, Any]:
        if self.openapi_schema is None:
            document = get_openapi(
                title=self.title, version=self.version, description=self.description, routes=self.routes
            )
            schemas = document.setdefault("components", {}).setdefault("schemas", {})
            problem = errors.Problem.model_json_schema(ref_template="#/components/schemas/{model}")
            schemas.update(problem.pop("$defs"))
            schemas["Problem"] = problem
            self.openapi_schema = document
        return self.openapi_schema


def create_app(central: Central) -> FastAPI:
    """The application over `central`, which somebody else starts and stops."""
    app = _App(
        title="Phaseyard",
        version="1",
        description=DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
    )
    app.state.central = central
    errors.install(app)
    app.include_router(files.router)
    for router in v1.OPEN:
        app.include_router(router, prefix="/v1", responses=errors.described(422, 500))
    refusals = errors.described(401, 403, 404, 409, 413, 422, 500)
    for router in v1.RESOURCES:
        app.include_router(router, prefix="/v1", dependencies=[bearer], responses=refusals)
    add_pages(app)
    return app
