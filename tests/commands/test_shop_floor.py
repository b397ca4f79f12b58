"""The address of the shop floor: one of this machine's own, picked by the maker, or the command says what to pick."""

import ipaddress
import re
import socket
from pathlib import Path

import pytest

from pipeline.commands import main, shop_floor
from pipeline.errors import UserError

HERE = [("192.168.7.20", "wlan0"), ("10.8.0.2", "tunnel")]


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "0.0.0.0",
            "::",
            "[::]:8502",
            "0",
            "0.0.0.0:8502",
            "::ffff:0.0.0.0",
            "::ffff:127.0.0.1",
            "*",
            "localhost",
        ),
        *(
            "localhost",
            "my-computer",
            "127.0.0.1/8",
            "224.0.0.1",
            "255.255.255.255",
            "fe80::1",
            "8.8.8.8",
            "2001:4860::1",
        ),
        *("10.99.98.97", "127.0.0.2:0", "127.0.0.2:70000", "127.0.0.2:x", "127.0.0.2 127.0.0.3", "-1", "1" * 500),
    ],
)
def test_any_other_address_is_refused_with_those_of_this_machine(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shop_floor, "addresses", lambda: HERE)
    with pytest.raises(UserError) as told:
        shop_floor.chosen(text)
    assert "192.168.7.20 (wlan0); 10.8.0.2 (tunnel)" in told.value.where
    assert "--shop-floor 192.168.7.20" in told.value.mend


def test_the_one_that_is_picked_is_served() -> None:
    floor = shop_floor.chosen("127.0.0.2:8999")
    assert (floor.address, floor.port, floor.url) == ("127.0.0.2", 8999, "https://127.0.0.2:8999")
    assert shop_floor.ShopFloor("fd00::2", 443).url == "https://[fd00::2]"


def test_a_port_in_use_is_said() -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.2", 0))
        busy.listen()
        port = busy.getsockname()[1]
        with pytest.raises(UserError, match="Nothing can listen at this port") as told:
            shop_floor.chosen(f"127.0.0.2:{port}")
    assert told.value.mend.endswith(f"--shop-floor 127.0.0.2:{port + 1}")


def test_a_certificate_and_its_key_go_together(tiny_shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = ["--certificate", str(tiny_shop / "shop.toml")]
    for call, says in (
        (["--shop-floor", "127.0.0.2", *own], "go together"),
        (["--shop-floor", "127.0.0.2", *own, "--key", "nowhere.pem"], "no such file"),
        (["--shop-floor", "127.0.0.2", *own, "--key", str(tiny_shop / "shop.toml")], "by this certificate and key"),
        (own, "for the shop floor"),
        (["--shop-floor"], "addresses of this machine"),
    ):
        assert main(["show", str(tiny_shop), *call]) == 2
        assert re.search(says, capsys.readouterr().err)


def test_this_machine_s_addresses_are_those_of_networks_of_its_own() -> None:
    for address, name in shop_floor.addresses():
        told = ipaddress.ip_address(address)
        assert name
        assert not (told.is_global or told.is_loopback or told.is_link_local or told.is_unspecified)
