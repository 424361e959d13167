"""`POST /v1/batches` as its client sees it: the answers of the single requests, and how they travel."""

from __future__ import annotations

import copy
import gzip
import http.client
import json
import re
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from backports import zstd
from fastapi.testclient import TestClient

from schemas.batches import BatchAnswerLine, BatchLine
from schemas.examples import (
    BATCH_TITLES,
    batch_answer_example,
    batch_examples,
    comparison_examples,
    diagnosis_examples,
    examples,
)
from service.app import create_app
from service.assess.grades import grades_of
from service.compare.verdicts import verdicts_of
from service.edge.settings import Settings
from service.faults.grades import grades_of_diagnosis
from tests.contract.test_problems import REFUSED, change, problem
from tests.streams import parsed

LINES = {"Content-Type": "application/x-ndjson"}


@pytest.fixture(scope="module")
def lines() -> Iterator[TestClient]:
    """The service, computing batches in a thread."""
    settings = Settings(batch_processes=0, maximum_line_bytes=100_000)
    with TestClient(create_app(settings), raise_server_exceptions=False) as session:
        yield session


def post(client: TestClient, rows: list[Any], query: str = "") -> tuple[list[dict[str, Any]], Any]:
    content = "\n".join(row if isinstance(row, str) else json.dumps(row) for row in rows)
    response = client.post(f"/v1/batches{query}", content=content, headers=LINES)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/x-ndjson"
    assert response.headers["cache-control"] == "no-store"
    return parsed(response.content)


def test_answers_are_those_of_the_single_requests(lines: TestClient) -> None:
    """Value by value, whatever their neighbours; reduced to grades, they are the same values."""
    bodies = list(examples().values())
    rows: list[dict[str, Any]] = [{"id": n, "assessment": body} for n, body in enumerate(bodies)]
    rows.insert(1, {"comparison": comparison_examples()["nothing_to_tell"]})
    rows.insert(3, {"diagnosis": diagnosis_examples()["charge_lost"]})
    found, summary = post(lines, rows)
    cut, _ = post(lines, rows, "?detail=grades")
    assert (summary["assessments"], summary["comparisons"], summary["diagnoses"]) == (len(bodies), 1, 1)
    for row, answer, short in zip(rows, found, cut, strict=True):
        assert answer["id"] == short["id"] == row.get("id")
        if "comparison" in row:
            single = lines.post("/v1/comparisons", json=row["comparison"]).json()
            assert answer["comparison"] == single
            assert short["verdicts"] == verdicts_of(single)
        elif "diagnosis" in row:
            single = lines.post("/v1/diagnoses", json=row["diagnosis"]).json()
            assert answer["diagnosis"] == single
            assert short["diagnosis_grades"] == grades_of_diagnosis(single)
        else:
            single = lines.post("/v1/assessments", json=row["assessment"]).json()
            assert answer["assessment"] == single
            assert short["grades"] == grades_of(single)


def test_problems_are_those_of_the_single_requests(lines: TestClient) -> None:
    """Each of them, in its place among lines that are answered, with its pointers into the line."""
    good = next(iter(examples().values()))
    bodies = []
    for _, changes, _, _ in REFUSED:
        body = copy.deepcopy(dict(good))
        for path, value in changes.items():
            change(body, path, copy.deepcopy(value))
        bodies.append(body)
    rows = [{"id": f"line {n}", "assessment": body} for n, body in enumerate(bodies)]
    rows.insert(3, {"id": "sound", "assessment": good})
    found, summary = post(lines, rows, "?detail=grades")
    assert [row["line"] for row in found] == list(range(len(rows)))
    assert [row["id"] for row in found] == [row["id"] for row in rows]
    assert "grades" in found.pop(3)
    assert summary["problems"] == len(bodies)
    for body, row in zip(bodies, found, strict=True):
        single = lines.post("/v1/assessments", json=body).json()
        del single["instance"]
        for error in single["errors"]:
            error["pointer"] = "/assessment" + error["pointer"]
        assert row["problem"] == single


@pytest.mark.parametrize(
    "text",
    [
        '{"assessment": ',
        '{"id": NaN}',
        '{"id": 1, "id": 2}',
        "[" * 50,
        '"\\ud800"',
        "9" * 50,
        "{}{}",
    ],
)
def test_what_is_not_strict_json_is_one_line_s_problem(lines: TestClient, text: str) -> None:
    """The same as for a single request with that text, except for its name; the other lines are answered."""
    single = lines.post("/v1/assessments", content=text, headers={"Content-Type": "application/json"}).json()
    found, _ = post(lines, [text, {"id": 1}])
    if single["type"] == "/problems/invalid-json":
        told = found[0]["problem"]
        assert told["type"] == single["type"]
        alike = re.sub(r"line 1, (column \d+)", r"\1 of the line", single["detail"])
        assert told["detail"] == alike.replace("The body", "The line")
        assert told["errors"][0]["detail"] == single["errors"][0]["detail"]
    assert found[0]["id"] is None
    assert found[1]["problem"]["type"] == "/problems/invalid-request"


def test_refusals_of_a_comparison_point_into_the_line(lines: TestClient) -> None:
    """Also those that come late, from the work itself."""
    body = copy.deepcopy(dict(comparison_examples()["coil_cleaned"]))
    body["unit"]["refrigerant"] = "R-999"
    (row,), _ = post(lines, [{"comparison": body}])
    single = lines.post("/v1/comparisons", json=body).json()
    assert row["problem"]["type"] == single["type"] == "/problems/cannot-be-assessed"
    assert row["problem"]["errors"][0]["pointer"] == "/comparison/unit/refrigerant"
    assert row["problem"]["detail"] == single["detail"]


def test_a_line_that_is_too_long_is_passed_over(lines: TestClient) -> None:
    """With the limit; the body may be longer than the limit of a single one."""
    rows = [
        {"id": "a"},
        {"id": "x" * 100_000},
        {"id": "b"},
        *({"id": "y" * 5000} for _ in range(80)),
    ]
    found, summary = post(lines, rows)
    assert found[1]["problem"]["type"] == "/problems/too-large"
    assert found[1]["problem"]["status"] == 413
    assert "100000 bytes" in found[1]["problem"]["detail"]
    assert (found[0]["id"], found[1]["id"], found[2]["id"]) == ("a", None, "b")
    assert summary["lines"] == len(rows)


PACKED: dict[str, Callable[[bytes], bytes]] = {
    "gzip": gzip.compress,
    "x-gzip": gzip.compress,
    "zstd": zstd.compress,
}
UNPACK: dict[str, Callable[[bytes], bytes]] = {"gzip": gzip.decompress, "zstd": zstd.decompress}


@pytest.mark.parametrize("sent", [None, *PACKED])
@pytest.mark.parametrize(
    ("accepted", "given"),
    [
        ("identity", None),
        ("gzip", "gzip"),
        ("gzip, zstd", "zstd"),
        ("gzip;q=1.0, zstd;q=0.5", "gzip"),
        ("zstd;q=0, *", "gzip"),
        ("gzip;q=0.1, identity", None),
        ("br", None),
        ("gzip;q=0", None),
    ],
)
def test_codings_both_ways(lines: TestClient, sent: str | None, accepted: str, given: str | None) -> None:
    """By `Content-Encoding` and `Accept-Encoding`, weights respected."""
    text = b'{"id": "one"}\n{"id": "two"}\n'
    headers = {**LINES, "Accept-Encoding": accepted}
    if sent is not None:
        headers["Content-Encoding"] = sent
    content = PACKED[sent](text) if sent else text
    with lines.stream("POST", "/v1/batches", content=content, headers=headers) as response:
        assert response.headers.get("content-encoding") == given
        assert response.headers["vary"] == "Accept-Encoding"
        raw = b"".join(response.iter_raw())
    found, summary = parsed(UNPACK[given](raw) if given else raw)
    assert [row["id"] for row in found] == ["one", "two"]
    assert summary["complete"] is True


@pytest.mark.parametrize("given", ["application/json", "text/plain", None])
def test_media_type(lines: TestClient, given: str | None) -> None:
    """415 with what is taken; the other name of lines of JSON is taken."""
    headers = {"Content-Type": given} if given else {}
    found = problem(lines.post("/v1/batches", content=b"{}", headers=headers), 415, "unsupported-media-type")
    assert "application/x-ndjson" in found["errors"][0]["allowed"]
    assert ("without a content type" in found["detail"]) == (given is None)
    for name in ("ndjson", "jsonl", "x-jsonlines", "json-lines"):
        other = {"Content-Type": f'application/{name}; charset="UTF-8"'}
        assert lines.post("/v1/batches", content=b"", headers=other).status_code == 200


def test_another_charset_is_refused(lines: TestClient) -> None:
    """415: JSON is UTF-8 (RFC 8259, 8.1), so what is said to be something else is not read as it."""
    headers = {"Content-Type": "application/x-ndjson; charset=ISO-8859-1"}
    found = problem(lines.post("/v1/batches", content=b"", headers=headers), 415, "unsupported-media-type")
    assert (found["errors"][0]["value"], found["errors"][0]["allowed"]) == ("iso-8859-1", "UTF-8")


def test_a_file_sent_by_put_is_refused_with_the_right_method(lines: TestClient) -> None:
    """`curl -T` puts."""
    found = problem(lines.put("/v1/batches", content=b"{}"), 405, "method-not-allowed")
    assert "-X POST" in found["errors"][0]["hint"]


def test_the_contract_says_how_long_a_line_may_be() -> None:
    """The number, as it is set where nobody sets another."""
    told = create_app().openapi()["paths"]["/v1/batches"]["post"]["description"]
    assert f"{Settings().maximum_line_bytes:,} bytes" in told


def test_other_codings_are_refused(lines: TestClient) -> None:
    """415, with those that are taken."""
    for coding in ("br", "gzip, gzip"):
        headers = {**LINES, "Content-Encoding": coding}
        found = problem(lines.post("/v1/batches", content=b"", headers=headers), 415, "unsupported-media-type")
        assert "gzip, zstd" in found["errors"][0]["allowed"]


@pytest.mark.parametrize(
    "query",
    [
        "detail=all",
        "offset=-1",
        "offset=x",
        "offset=1.0",
        "offset=1_0",
        "offset=9007199254740992",
        "ofset=1",
        "offset=1&offset=2",
    ],
)
def test_parameters_are_checked_before_the_body(lines: TestClient, query: str) -> None:
    """422 as elsewhere."""
    found = problem(lines.post(f"/v1/batches?{query}", content=b"", headers=LINES), 422, "invalid-request")
    error = found["errors"][0]
    assert error["pointer"].startswith("query/")
    if "&" not in query:
        assert error["value"] == query.split("=")[1]
    if error["pointer"] == "query/offset":
        assert "unit" not in error["hint"]
        assert "e+" not in error["allowed"]


@pytest.mark.parametrize("name", BATCH_TITLES)
def test_the_example_is_served_and_answered(lines: TestClient, name: str) -> None:
    """Its lines fit the schema but for the one that is meant to be refused; so do the answers shown."""
    served = lines.get(f"/examples/batches/{name}.ndjson")
    assert served.text == batch_examples()[name]
    assert {"address": f"/examples/batches/{name}.ndjson"}.items() <= next(
        row.items() for row in lines.get("/examples").json()["examples"] if "batches" in row["address"]
    )
    response = lines.post("/v1/batches?detail=grades", content=served.content, headers=LINES)
    found, summary = parsed(response.content)
    assert summary["problems"] == 1
    for text, row in zip(served.text.splitlines(), found, strict=True):
        if "problem" not in row:
            BatchLine.model_validate_json(text)
    for text in [*batch_answer_example().splitlines(), *response.text.splitlines()]:
        BatchAnswerLine.model_validate_json(text)


# ---------------------------------------------------------------- over a network


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """A real server on loopback."""
    application = create_app(Settings(batch_processes=0))
    server = uvicorn.Server(uvicorn.Config(application, log_level="error", lifespan="on"))
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen()
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    yield int(listening.getsockname()[1])
    server.should_exit = True
    thread.join()
    listening.close()


@pytest.mark.parametrize("coding", ["identity", "gzip", "zstd"])
def test_answers_come_before_the_request_has_ended(port: int, coding: str) -> None:
    """A client that sends the next line when it has read the answer to the one before."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.putrequest("POST", "/v1/batches", skip_accept_encoding=True)
    for name, value in {**LINES, "Accept-Encoding": coding, "Transfer-Encoding": "chunked"}.items():
        connection.putheader(name, value)
    connection.endheaders()
    response = connection.getresponse()
    from service.edge.codings import Decoder

    decoder, answer = Decoder(coding), b""

    def read_a_line() -> dict[str, Any]:
        nonlocal answer
        while b"\n" not in answer:
            answer += b"".join(decoder.feed(response.read1()))
        line, answer = answer.split(b"\n", 1)
        return dict(json.loads(line))

    for number in range(3):
        line = b'{"id": %d}\n' % number
        connection.send(b"%x\r\n%b\r\n" % (len(line), line))
        assert read_a_line()["id"] == number
    connection.send(b"0\r\n\r\n")
    assert read_a_line()["summary"]["answered"] == 3
    connection.close()


def test_a_client_that_waits_to_be_asked_for_its_body_is_asked(port: int) -> None:
    """`Expect: 100-continue`, as curl sends with long bodies: before the head of the answer (RFC 9110, 10.1.1)."""
    with socket.create_connection(("127.0.0.1", port)) as waiting, waiting.makefile("rb") as answer:
        waiting.sendall(
            b"POST /v1/batches HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\n"
            b"Content-Length: 9\r\nExpect: 100-continue\r\n\r\n"
        )
        assert answer.readline().split()[1] == b"100"
        waiting.sendall(b'{"id": 1}')
        assert answer.readline() == b"\r\n"
        assert answer.readline().split()[1] == b"200"


def test_the_client_of_the_readme_answers_the_example(
    port: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As written there, except for the port."""
    home = Path(__file__).parents[2]
    monkeypatch.chdir(home)
    part = (home / "service" / "batches" / "README.md").read_text("utf-8")
    (client,) = re.findall(r"^```python\n(.*?)^```", part, re.DOTALL | re.MULTILINE)
    exec(client.replace(" 8000)", f" {port})"), {})
    found, summary = parsed(capsys.readouterr().out.encode())
    assert len(found) == batch_examples()["mixed"].count("\n") == summary["lines"]
    assert (summary["complete"], summary["notices"]) == (True, [])


def test_a_client_that_goes_leaves_nothing_behind(port: int) -> None:
    """The next one is answered."""
    with socket.create_connection(("127.0.0.1", port)) as gone:
        gone.sendall(
            b"POST /v1/batches HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\n"
            b'Content-Length: 1000000\r\n\r\n{"id": 1}\n'
        )
        gone.recv(10)
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request("POST", "/v1/batches", b'{"id": 2}', LINES)
    found, _ = parsed(connection.getresponse().read())
    assert found[0]["id"] == 2
    connection.close()
