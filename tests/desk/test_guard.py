"""Who gets in: by the right name, from our own page, with the token. Each refusal has its own status."""

import base64
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from measure.desk.server.app import make_app
from measure.desk.server.guard import POLICY, Guard
from measure.desk.server.serve import Server
from measure.desk.session.session import Session

HOST = "127.0.0.1:5000"
TOKEN = "a-token-for-this-test"


@pytest.fixture
def client(empty: Session) -> Iterator[TestClient]:
    guard = Guard(make_app(empty), 5000, {HOST: TOKEN})
    with TestClient(guard, base_url=f"http://{HOST}", follow_redirects=False) as one:
        yield one


@pytest.fixture
def inside(client: TestClient) -> TestClient:
    assert client.get("/open", params={"t": TOKEN}).status_code == 303
    return client


def test_the_link_lets_in_and_hides_the_token_from_scripts(client: TestClient) -> None:
    answer = client.get("/open", params={"t": TOKEN})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert "HttpOnly" in answer.headers["set-cookie"]
    assert "SameSite=Strict" in answer.headers["set-cookie"]
    assert client.get("/").status_code == 200


@pytest.mark.parametrize("token", ["", "wrong", TOKEN + "x", "ä"])
def test_a_wrong_token_stays_outside(client: TestClient, token: str) -> None:
    assert client.get("/open", params={"t": token}).status_code == 401
    assert client.get("/").status_code == 401


@pytest.mark.parametrize("path", ["/", "/static/main.js", "/tile/x/0/0/0", "/thumb/x", "/keep/x"])
def test_nothing_is_served_without_the_cookie(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 401


@pytest.mark.parametrize("host", ["evil.test", "127.0.0.1", "127.0.0.1:5001", "evil.test:5000", ""])
def test_another_name_is_refused_even_with_the_cookie(inside: TestClient, host: str) -> None:
    assert inside.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.test", "null", "http://127.0.0.1:5001", f"https://{HOST}"])
def test_a_request_from_another_page_is_refused(inside: TestClient, origin: str) -> None:
    assert inside.post("/api/photo", content=b"", headers={"origin": origin}).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_port_of_this_computer_counts_as_another_page(inside: TestClient, site: str) -> None:
    assert inside.get("/", headers={"sec-fetch-site": site}).status_code == 403
    assert inside.get("/", headers={"sec-fetch-site": "same-origin"}).status_code == 200


def test_the_line_is_guarded_too(client: TestClient) -> None:
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/ws"):
        pass


def test_the_line_from_another_page_is_refused(inside: TestClient) -> None:
    headers = {"origin": "http://evil.test"}
    with pytest.raises(WebSocketDisconnect), inside.websocket_connect("/ws", headers=headers):
        pass


def test_every_answer_carries_the_content_policy(inside: TestClient) -> None:
    for path in ("/", "/static/main.js", "/nothing-here"):
        headers = inside.get(path).headers
        assert headers["content-security-policy"] == POLICY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"


def test_the_only_styles_let_in_are_those_of_the_page_itself(empty: Session) -> None:
    server = Server(empty)
    server.close()
    with TestClient(server.guard, base_url=server.links.here.split("/open")[0]) as one:
        answer = one.get(server.links.here)
    (style,) = re.findall(r"<style>(.*?)</style>", answer.text, re.DOTALL)
    # CSP Level 3, 2.3.1: the digest of what stands between the tags, in base64.
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = answer.headers["content-security-policy"]
    assert f"style-src 'self' 'sha256-{digest}';" in policy
    assert "unsafe" not in policy
    assert "stylesheet" not in answer.text


def test_a_file_that_the_browser_has_is_not_sent_again(inside: TestClient) -> None:
    first = inside.get("/static/main.js")
    assert first.headers["content-type"].startswith("text/javascript")
    again = inside.get("/static/main.js", headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_the_policy_allows_no_other_host_and_no_inline_code() -> None:
    assert "default-src 'none'" in POLICY
    assert "unsafe" not in POLICY
    assert "http" not in POLICY


@pytest.mark.parametrize(
    "path",
    [
        "/static/../guard.py",
        "/static/%2e%2e/guard.py",
        "/static/..%2fguard.py",
        "/keep/..%2f..%2fetc%2fpasswd",
    ],
)
def test_no_path_leads_out_of_the_static_files(inside: TestClient, path: str) -> None:
    assert inside.get(path).status_code == 404


def test_the_page_loads_nothing_from_elsewhere() -> None:
    static = Path(__file__).parents[2] / "measure" / "desk" / "static"
    allowed = ("http://www.w3.org/2000/svg", "ws://${location.host}")
    for path in (one for one in static.rglob("*") if one.is_file()):
        text = path.read_text("utf-8")
        for name in allowed:
            text = text.replace(name, "")
        assert "://" not in text, path.name
        assert "innerHTML" not in text, path.name


def test_the_shared_name_has_a_token_of_its_own(empty: Session) -> None:
    shared = "192.168.1.20:5000"
    guard = Guard(make_app(empty), 5000, {HOST: TOKEN, shared: "another-token"})
    with TestClient(guard, base_url=f"http://{shared}", follow_redirects=False) as phone:
        assert phone.get("/open", params={"t": TOKEN}).status_code == 401
        assert phone.get("/open", params={"t": "another-token"}).status_code == 303
        assert phone.get("/").status_code == 200
        # When sharing ends the name is taken off the list.
        del guard.tokens[shared]
        assert phone.get("/").status_code == 421
