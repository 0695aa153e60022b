"""The file that says to whom findings are posted."""

from __future__ import annotations

from pathlib import Path

import pytest

from cagewise.decision.verdict import State
from cagewise.errors import PlantFolderError
from cagewise.workflows.post_file import WHO, Channel, read_post_file

SECRETS = {"HOOK": "https://hooks.example.org/T0/secret-path", "TOKEN": "Bearer s3cret", "PW": "pw"}


def read(folder: Path, text: str, schema: str = "schema = 1") -> tuple[Channel, ...]:
    (folder / "post.toml").write_text(f"{schema}\n{text}", encoding="utf-8")
    return read_post_file(folder, SECRETS)


def test_without_a_file_nothing_is_posted(tmp_path: Path) -> None:
    assert read_post_file(tmp_path, {}) == ()


def test_a_webhook_and_a_broker(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").write_text("")
    hook, broker = read(
        tmp_path,
        """
        [[post]]
        channel = "maintenance"
        url = "https://plant.example.org:8443/findings?line=2"
        headers_from = { Authorization = "TOKEN" }
        states = ["suspect", "not decidable"]
        only_changes = true
        who = "the reliability engineer"
        [[post]]
        channel = "broker"
        url = "mqtts://broker.example.org"
        topic = "mill/motors/findings"
        user = "cagewise"
        password_from = "PW"
        ca_file = "ca.pem"
        questions = false
        """,
    )
    assert (hook.host, hook.port, hook.is_broker) == ("plant.example.org", 8443, False)
    assert hook.headers == {"Authorization": "Bearer s3cret"}
    assert hook.states == {State.SUSPECT, State.NOT_DECIDABLE}
    assert hook.only_changes
    assert hook.who == "the reliability engineer"
    assert (broker.host, broker.port, broker.topic) == (
        "broker.example.org",
        8883,
        "mill/motors/findings",
    )
    assert (broker.user, broker.password, broker.ca_file) == ("cagewise", "pw", tmp_path / "ca.pem")
    assert broker.states == set(State)
    assert broker.who == WHO
    assert not broker.questions


def test_what_is_secret_is_never_shown(tmp_path: Path) -> None:
    (hook,) = read(
        tmp_path,
        '[[post]]\nchannel = "a"\nurl_from = "HOOK"\nheaders_from = { Authorization = "TOKEN" }',
    )
    assert hook.address.path == "/T0/secret-path"
    for shown in (hook.shown, repr(hook), str(hook)):
        assert "secret" not in shown
        assert "s3cret" not in shown


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "names no channel"),
        ("post = 3", "names no channel"),
        ('[[post]]\nchannel = "a"', "one of `url` and `url_from`"),
        ('[[post]]\nurl = "https://a.example"', "`channel` must be"),
        ('[[post]]\nchannel = "a b"\nurl = "https://a.example"', "`channel` must be"),
        ('[[post]]\nchannel = "a"\nurl = "ftp://a.example"', "must begin with"),
        ('[[post]]\nchannel = "a"\nurl = "https://u:p@a.example"', "no user, no password"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example:x"', "must begin with"),
        ('[[post]]\nchannel = "a"\nurl = 7', "`url` must be text"),
        ('[[post]]\nchannel = "a"\nurl = "mqtt://a.example"', "`topic` goes with"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\ntopic = "t"', "`topic` goes with"),
        ('[[post]]\nchannel = "a"\nurl = "mqtt://a.example"\ntopic = "t/#"', "hold no +"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\nonly_change = true', "only_changes"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\nstates = ["bad"]', "`states`"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\nstates = []', "`states`"),
        ('[[post]]\nchannel = "a"\nurl_from = "GONE"', "variable GONE"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\nuser = "u"', "for mqtt"),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\nca_file = "no.pem"', "no file"),
        (
            '[[post]]\nchannel = "a"\nurl = "http://a.example"\nheaders_from = { X-Key = "TOKEN" }',
            "for all to read",
        ),
        (
            '[[post]]\nchannel = "a"\nurl = "https://a.example"\nheaders_from = { Host = "TOKEN" }',
            "cannot set 'Host'",
        ),
        ('[[post]]\nchannel = "a"\nurl = "https://a.example"\n' * 2, "two channels"),
    ],
)
def test_each_mistake_is_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(PlantFolderError) as caught:
        read(tmp_path, text)
    assert said in caught.value.what
    assert "s3cret" not in str(caught.value)


def test_all_mistakes_are_named_at_once(tmp_path: Path) -> None:
    with pytest.raises(PlantFolderError) as caught:
        read(tmp_path, "[[post]]\nchannel = 1\n[[post]]\nurl_from = 'GONE'", schema="schema = 2")
    assert "schema = 1" in caught.value.what
    with pytest.raises(PlantFolderError) as caught:
        read(tmp_path, "[[post]]\nchannel = 1\n[[post]]\nurl_from = 'GONE'")
    assert "number 1: `channel` must be text" in caught.value.what
    assert "number 2: " in caught.value.what
    with pytest.raises(PlantFolderError):
        read(tmp_path, "[[post")


def test_an_open_way_can_be_accepted(tmp_path: Path) -> None:
    text = '[[post]]\nchannel = "a"\nurl = "mqtt://{}"\ntopic = "t"\nuser = "u"\npassword_from="PW"'
    assert read(tmp_path, text.format("localhost"))
    assert read(tmp_path, text.format("b.example") + "\naccept_unencrypted = true")
