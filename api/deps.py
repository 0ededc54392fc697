"""What the routes are given of the central system."""

from typing import Annotated, Any

from fastapi import Depends, Request

Central = Any


def central_of(request: Request) -> Central:
    """The one that `create_app` was given."""
    return request.app.state.central


TheCentral = Annotated[Central, Depends(central_of)]
