"""What the routes are given of the central system."""

from typing import Annotated

from fastapi import Depends, Request

from csms.app import Central

__all__ = ["Central", "TheCentral", "central_of"]


def central_of(request: Request) -> Central:
    """The one that `create_app` was given."""
    central: Central = request.app.state.central
    return central


TheCentral = Annotated[Central, Depends(central_of)]
