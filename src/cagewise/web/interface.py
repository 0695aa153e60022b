"""The description of the HTTP interface (OpenAPI): how programs prove who they are, and errors."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from cagewise.web.problems import MEDIA_TYPE, Problem

_REFERENCE = "#/components/schemas/"
_ERROR = {
    "description": "An error: what is wrong, where, and what can be done.",
    "content": {MEDIA_TYPE: {"schema": {"$ref": f"{_REFERENCE}Problem"}}},
}
_SUMMARY = (
    "Everything the pages do. On this machine, without accounts, nothing has to be proven; "
    "otherwise send the token of an account: Authorization: Bearer TOKEN."
)


def describe(app: FastAPI) -> None:
    """Give an application a description that tells errors as they are answered."""

    def described() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = _description(app)
        return app.openapi_schema

    app.openapi = described  # type: ignore[method-assign]  # FastAPI's own way to change it


def _description(app: FastAPI) -> dict[str, Any]:
    """Return the description."""
    made = get_openapi(
        title=app.title, version=app.version, routes=app.routes, description=_SUMMARY
    )
    components = made.setdefault("components", {})
    schemas: dict[str, Any] = components.setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    problem = Problem.model_json_schema(ref_template=f"{_REFERENCE}{{model}}")
    schemas.update(problem.pop("$defs", {}))
    schemas["Problem"] = problem
    components["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    made["security"] = [{"token": []}, {}]
    for operation in _operations(made):
        operation["responses"].pop("422", None)
        operation["responses"].setdefault("default", _ERROR)
    return made


def _operations(description: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield every operation."""
    for path in description.get("paths", {}).values():
        yield from path.values()
