"""Logging in, staying in, going out; and what a page of another site cannot do."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from cagewise.errors import UsageError
from cagewise.web.desk import open_desk
from cagewise.web.pages.door import WRONG, local_path
from cagewise.web.security.rates import (
    LOGIN_FROM_ADDRESS,
    LOGIN_OF_NAME_FROM_ADDRESS,
    Buckets,
    LoginRates,
    Rate,
)
from cagewise.web.security.refusal import RefusedError
from cagewise.web.security.rights import Right
from cagewise.web.security.sessions import IDLE
from cagewise.web.settings import WebSettings
from support.workbench import HERE, HTML, PASSWORD, Bench, Clock, mark_of, served

ANOTHER = "quite another password"


def test_at_this_machine_without_accounts_everything_is_open(bench: Bench) -> None:
    assert bench.client.get("/").status_code == 200
    assert bench.client.get("/accounts").status_code == 200
    assert "no accounts" in bench.client.get("/account").text


def test_with_the_first_account_everybody_has_to_log_in_here_too(bench: Bench) -> None:
    fields = {"name": "Ada", "password": PASSWORD, "right": "admin"}
    assert bench.post("/accounts", page="/accounts", **fields).status_code == 303
    answer = bench.client.get("/", headers=HTML, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/login")
    assert bench.log_in("ada").status_code == 303
    assert bench.client.get("/").status_code == 200


@pytest.mark.parametrize("said", [{"host": "::"}, {"host": "192.0.2.1"}, {"behind_proxy": True}])
def test_others_are_served_only_if_that_was_said(plant_folder: Path, said: dict[str, Any]) -> None:
    with pytest.raises(UsageError, match="others could reach"), served(plant_folder, **said):
        pass


def test_others_are_served_only_if_somebody_manages_accounts(plant_folder: Path) -> None:
    settings = WebSettings(plant=plant_folder, host="192.0.2.1", allow_remote=True)
    with pytest.raises(UsageError, match="no account"), open_desk(settings):
        pass


@pytest.mark.parametrize("path", ["/", "/accounts", "/account", "/find?tag=P-101", "/nothing"])
def test_who_is_not_logged_in_sees_the_door_only(remote: Bench, path: str) -> None:
    answer = remote.client.get(path, headers=HTML, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/login")
    assert "Works" not in remote.client.get("/login").text


@pytest.mark.parametrize("path", ["/api/v1/about", "/api/v1/openapi.json", "/api/v1/nothing"])
def test_the_interface_without_a_token_says_that_one_is_needed(remote: Bench, path: str) -> None:
    answer = remote.client.get(path)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"].startswith("Bearer")
    assert answer.headers["content-type"] == "application/problem+json"


def test_logging_in_leads_to_the_page_that_was_wanted(remote: Bench) -> None:
    answer = remote.client.get("/find?tag=P&x=1", headers=HTML, follow_redirects=False)
    assert answer.headers["location"] == "/login?next=/find%3Ftag%3DP%26x%3D1"
    page = remote.client.get(answer.headers["location"])
    assert 'name="next" value="/find?tag=P&amp;x=1"' in page.text
    assert remote.log_in("Cleo", next="/find?tag=P&x=1").headers["location"] == "/find?tag=P&x=1"


@pytest.mark.parametrize(
    "wanted",
    [
        "//evil.example",
        "https://evil.example",
        "/\\evil.example",
        "javascript:alert(1)",
        "/\t/x",
        "",
    ],
)
def test_logging_in_never_leads_elsewhere(wanted: str) -> None:
    assert local_path(wanted) == "/"


def test_the_cookie_of_a_session_is_for_this_site_and_its_server_only(remote: Bench) -> None:
    before = remote.client.get("/login").headers.get_list("set-cookie")
    stated = remote.log_in("Ada").headers["set-cookie"]
    for cookie in (*before, stated):
        assert cookie.startswith("__Host-cagewise_")
        said = cookie.lower().split("; ")[1:]
        assert {"httponly", "samesite=strict", "secure", "path=/"} <= set(said)
        assert not any(each.startswith("domain") for each in said)


def test_without_encryption_the_cookie_is_not_said_to_be_secure(bench: Bench) -> None:
    stated = bench.client.get("/").headers["set-cookie"].lower()
    assert "httponly" in stated
    assert "samesite=strict" in stated
    assert "secure" not in stated


def test_a_login_brings_a_session_of_its_own(remote: Bench) -> None:
    def session() -> str:
        return next(v for k, v in remote.client.cookies.items() if "session" in k)

    remote.log_in("Ada")
    first = session()
    name = next(k for k in remote.client.cookies if "session" in k)
    remote.client.get("/logout")
    mark = remote.mark()
    answer = remote.client.post(
        "/login", data={"csrf": mark, "name": "Ben", "password": PASSWORD}, follow_redirects=False
    )
    assert answer.status_code == 303
    assert session() != first
    stolen = remote.another_browser()
    stolen.client.cookies.set(name, first, domain="motors.plant.example")
    assert stolen.client.get("/account", follow_redirects=False).status_code == 303


def test_a_session_that_somebody_planted_is_not_taken_over(remote: Bench) -> None:
    name = (
        remote.client.get("/login").headers["set-cookie"].split("=")[0].replace("seed", "session")
    )
    remote.client.cookies.set(name, "planted", domain="motors.plant.example")
    answer = remote.log_in("Ada")
    assert "planted" not in answer.headers["set-cookie"]


def test_after_logging_out_the_session_opens_nothing(remote: Bench) -> None:
    remote.log_in("Ada")
    kept = dict(remote.client.cookies)
    answer = remote.post("/logout")
    assert "Max-Age=0" in answer.headers["set-cookie"]
    thief = remote.another_browser()
    for name, value in kept.items():
        thief.client.cookies.set(name, value, domain="motors.plant.example")
    assert thief.client.get("/", headers=HTML, follow_redirects=False).status_code == 303


def test_a_session_is_over_after_its_time(remote: Bench) -> None:
    remote.log_in("Ada")
    assert remote.client.get("/account", follow_redirects=False).status_code == 200
    remote.desk.sessions._clock = Clock(remote.desk.sessions._clock() + IDLE + timedelta(seconds=1))
    assert remote.client.get("/account", follow_redirects=False).status_code == 303


def test_a_wrong_password_and_a_wrong_name_read_the_same(remote: Bench) -> None:
    one = remote.log_in("Ada", "wrong wrong wrong")
    two = remote.log_in("Eve", "wrong wrong wrong")
    assert one.status_code == two.status_code == 422
    assert WRONG in one.text
    assert WRONG in two.text


def test_after_some_wrong_passwords_one_has_to_wait(remote: Bench) -> None:
    for _ in range(LOGIN_OF_NAME_FROM_ADDRESS.at_once):
        assert remote.log_in("Ada", "wrong wrong wrong").status_code == 422
    refused = remote.log_in("Ada")  # the right one does not help either
    assert refused.status_code == 429
    assert int(refused.headers["retry-after"]) > 0
    assert remote.log_in("Ben").status_code == 303


def test_names_cannot_be_tried_one_after_the_other() -> None:
    rates = LoginRates(lambda: 0.0)
    for number in range(LOGIN_FROM_ADDRESS.at_once):
        rates.require(f"name {number}", "192.0.2.1")
    with pytest.raises(RefusedError) as caught:
        rates.require("another", "192.0.2.1")
    assert caught.value.status == 429
    rates.require("another", "192.0.2.2")


def test_a_bucket_leaks_and_forgets_the_silent_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cagewise.web.security.rates._MOST_KEPT", 3)
    now = [0.0]
    buckets = Buckets(Rate(at_once=2, per_s=0.5), lambda: now[0])
    assert [buckets.add("a"), buckets.add("a"), buckets.add("a")] == [0.0, 0.0, 2.0]
    now[0] = 2.0
    assert buckets.add("a") == 0.0
    for name in "bcd":
        buckets.add(name)
    assert len(buckets._full) == 3
    assert buckets.wait_s("a") == 0.0


def test_rights_hold_those_before_them(remote: Bench) -> None:
    for name, status in (("Cleo", 403), ("Ben", 403), ("Ada", 200)):
        browser = remote.another_browser()
        browser.log_in(name)
        assert browser.client.get("/").status_code == 200
        assert browser.client.get("/accounts").status_code == status


def test_a_right_that_is_taken_is_gone_at_once(remote: Bench) -> None:
    ben = remote.desk.accounts.named("Ben")
    remote.desk.accounts.change_right(ben.id, Right.ADMIN)
    remote.log_in("Ben")
    assert remote.client.get("/accounts").status_code == 200
    remote.desk.accounts.change_right(ben.id, Right.READ)
    assert remote.client.get("/accounts").status_code == 403


def test_a_form_without_the_mark_of_its_browser_changes_nothing(remote: Bench) -> None:
    remote.log_in("Ada")
    other = remote.another_browser()
    other.log_in("Ben")
    fields = {"name": "Eve", "password": PASSWORD, "right": "admin"}
    for mark in ("", "x", other.mark(), remote.mark()[:-4] + "AAA="):
        answer = remote.client.post("/accounts", data=fields | {"csrf": mark})
        assert answer.status_code == 403
    assert {each.name for each in remote.desk.accounts.all()} == {"Ada", "Ben", "Cleo"}
    answer = remote.client.post(
        "/accounts", data=fields, headers={"x-csrf-token": remote.mark()}, follow_redirects=False
    )
    assert answer.status_code == 303


def test_the_door_has_a_mark_too(remote: Bench) -> None:
    answer = remote.client.post("/login", data={"name": "Ada", "password": PASSWORD})
    assert answer.status_code == 403


def test_a_mark_looks_different_every_time_and_survives_a_restart(plant_folder: Path) -> None:
    with served(plant_folder) as bench:
        one, two = bench.mark(), bench.mark()
        cookies = dict(bench.client.cookies)
    assert one != two
    with served(plant_folder) as bench:
        for name, value in cookies.items():
            bench.client.cookies.set(name, value, domain="127.0.0.1")
        answer = bench.client.post("/logout", data={"csrf": one}, follow_redirects=False)
        assert answer.status_code == 303


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_page_of_another_site_cannot_send_forms(bench: Bench, headers: dict[str, str]) -> None:
    answer = bench.client.post("/logout", data={"csrf": bench.mark()}, headers=headers)
    assert answer.status_code == 403
    assert "another site" in answer.text


def test_a_page_of_another_site_can_link_but_not_embed(bench: Bench) -> None:
    link = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    embed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert bench.client.get("/", headers=link).status_code == 200
    assert bench.client.get("/api/v1/about", headers=embed).status_code == 403


def test_our_own_page_is_not_another_site(bench: Bench) -> None:
    headers = {"origin": HERE, "sec-fetch-site": "same-origin"}
    data = {"csrf": bench.mark()}
    answer = bench.client.post("/logout", data=data, headers=headers, follow_redirects=False)
    assert answer.status_code == 303


def test_at_this_machine_a_program_needs_no_mark_and_a_browser_does(bench: Bench) -> None:
    program = bench.another_browser().client
    assert program.post("/logout", follow_redirects=False).status_code == 303
    for header in ({"origin": HERE}, {"sec-fetch-site": "same-origin"}, {"cookie": "a=b"}):
        assert program.post("/logout", headers=header).status_code == 403


def test_a_token_opens_the_interface_for_a_program(remote: Bench) -> None:
    remote.log_in("Ben")
    answer = remote.post("/account/tokens", name="export", right="read", days="30")
    token = answer.text.split('class="secret">')[1].split("<")[0]
    program = remote.another_browser().client
    headers = {"authorization": f"Bearer {token}"}
    assert program.get("/api/v1/about", headers=headers).json()["name"] == "Works"
    assert program.get("/accounts", headers=headers).status_code == 403
    wrong = {"authorization": "Bearer cagewise_x"}
    assert program.get("/api/v1/about", headers=wrong).status_code == 401
    more = {"name": "more", "right": "read", "days": "1"}
    assert program.post("/account/tokens", data=more, headers=headers).status_code == 404


def test_changing_my_password_keeps_me_in_and_nobody_else(remote: Bench) -> None:
    other = remote.another_browser()
    other.log_in("Ben")
    remote.log_in("Ben")
    new = ANOTHER
    assert remote.post("/account/password", former="wrong", password=new).status_code == 422
    assert (
        remote.post("/account/password", former=PASSWORD, password=PASSWORD[:11]).status_code == 422
    )
    assert remote.post("/account/password", former=PASSWORD, password=new).status_code == 303
    assert mark_of(remote.client.get("/account"))
    assert "Ben" in remote.client.get("/account").text
    assert other.client.get("/account", follow_redirects=False).status_code == 303
    assert remote.another_browser().log_in("Ben", new).status_code == 303


def test_the_accounts_are_managed_on_their_page(remote: Bench) -> None:
    remote.log_in("Ada")
    page = "/accounts"
    fields = {"name": "Dan", "password": PASSWORD, "right": "read"}
    assert remote.post(page, page=page, **fields).headers["location"] == "/accounts?done=added"
    assert remote.post(page, page=page, **fields).status_code == 409
    assert remote.post(page, page=page, **(fields | {"right": "king"})).status_code == 422
    dan = remote.desk.accounts.named("dan").id
    ada = remote.desk.accounts.named("ada").id
    assert remote.post(f"{page}/{dan}/right", page=page, right="write").status_code == 303
    assert remote.desk.accounts.named("dan").right is Right.WRITE
    new = ANOTHER
    assert remote.post(f"{page}/{dan}/password", page=page, password=new).status_code == 303
    assert remote.desk.accounts.check("Dan", new) is not None
    assert remote.post(f"{page}/{dan}/remove", page=page).status_code == 303
    assert remote.post(f"{page}/{dan}/remove", page=page).status_code == 404
    assert "Nobody would be left" in remote.post(f"{page}/{ada}/remove", page=page).text


def test_accounts_are_managed_by_programs_too(remote: Bench) -> None:
    ada = remote.desk.accounts.named("Ada")
    token = remote.desk.tokens.issue(ada.id, name="set-up", right=Right.ADMIN, days=1)
    program = remote.another_browser().client
    program.headers["authorization"] = f"Bearer {token}"
    me = program.get("/api/v1/me").json()
    assert me == {"name": "Ada", "right": "admin", "way": "token"}
    path = "/api/v1/accounts"
    new = {"name": "Dan", "password": PASSWORD, "right": "read"}
    made = program.post(path, json=new)
    assert made.status_code == 201
    assert "password" not in made.text.replace("password_at", "")
    assert program.post(path, json=new).status_code == 409
    assert program.post(path, json=new | {"password": PASSWORD[:11]}).status_code == 422
    dan = f"{path}/{made.json()['id']}"
    change = {"right": "write", "password": ANOTHER}
    assert program.patch(dan, json=change).status_code == 204
    assert remote.desk.accounts.check("Dan", ANOTHER) is not None
    assert program.delete(dan).status_code == 204
    assert program.delete(dan).status_code == 404
    assert program.delete(f"{path}/{1 << 70}").status_code == 422
    assert [each["name"] for each in program.get(path).json()] == ["Ada", "Ben", "Cleo"]
    reader = remote.desk.tokens.issue(ada.id, name="look", right=Right.READ, days=1)
    assert program.get(path, headers={"authorization": f"Bearer {reader}"}).status_code == 403


def test_a_number_beyond_any_is_no_fault(remote: Bench) -> None:
    remote.log_in("Ada")
    for path in (f"/accounts/{1 << 70}/remove", f"/account/tokens/{1 << 70}/revoke"):
        assert remote.post(path).status_code == 422
