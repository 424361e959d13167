"""The floor: the same requests and answers over HTTP, and nothing in between.

``python -m tests.benchmarks.speed.floor PORT FILE`` serves answers computed beforehand, by address, from
a JSON file.  The request is parsed and checked by the service's own contract, nothing of the service
itself is imported.
"""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import Annotated, Any

import orjson
import uvicorn
from fastapi import Body, FastAPI, Response

from schemas.assessments import Assessment, AssessmentRequest
from schemas.comparisons import Comparison, ComparisonRequest


def application(answers: dict[str, Any]) -> FastAPI:
    """An application that answers every request with what it was given."""
    app = FastAPI()

    @app.get("/health/ready")
    async def ready() -> Response:
        return Response(b"{}", media_type="application/json")

    @app.post("/v1/assessments", response_model=Assessment)
    async def assessment(request: Annotated[AssessmentRequest, Body()]) -> Response:
        return Response(orjson.dumps(answers["assessments"]), media_type="application/json")

    @app.post("/v1/comparisons", response_model=Comparison)
    async def comparison(request: Annotated[ComparisonRequest, Body()]) -> Response:
        return Response(orjson.dumps(answers["comparisons"]), media_type="application/json")

    return app


def main() -> None:
    """Serve until stopped."""
    port, file = sys.argv[1:]
    app = application(orjson.loads(Path(file).read_bytes()))
    gc.collect()
    gc.freeze()  # as the service does
    uvicorn.run(app, host="127.0.0.1", port=int(port), log_level="error", access_log=False)


if __name__ == "__main__":
    main()
