"""The settings: defaults that work, every mistake at once, nothing public by accident."""

from __future__ import annotations

from pathlib import Path

import pytest

from verifier.service import load_config
from verifier.source import MachineError


def settings(folder: Path, text: str) -> Path:
    file = folder / "service.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_folder_is_all_that_is_needed(tmp_path: Path) -> None:
    config = load_config(shop=tmp_path / "shop")
    assert (config.host, config.port, config.secure) == ("127.0.0.1", 8470, False)
    assert config.upload_limit == 8 << 20
    assert (config.session.idle_s, config.session.total_s, config.action_s) == (900, 43200, 120)
    assert (config.tries, config.lock_s) == (5, 900)
    assert config.trusted_hosts == ("127.0.0.1", "localhost")


def test_every_mistake_is_told_in_one_run(tmp_path: Path) -> None:
    file = settings(
        tmp_path,
        'port = "8000"\nworkrs = 3\nupload_mib = 65\npublic_hosts = ["https://a.example/"]\n[session]\nidle_minutes = 0\n',
    )
    with pytest.raises(MachineError) as caught:
        load_config(file, shop=tmp_path)
    told = "\n".join(caught.value.mistakes)
    for word in ("port", "workrs", "did you mean workers", "upload_mib", "public_hosts.0", "session.idle_minutes"):
        assert word in told
    assert all(str(file) in line for line in caught.value.mistakes)


def test_a_public_address_needs_the_names_it_goes_by(tmp_path: Path) -> None:
    with pytest.raises(MachineError, match="public_hosts"):
        load_config(shop=tmp_path, host="0.0.0.0")
    with pytest.raises(MachineError, match="public_hosts"):
        load_config(settings(tmp_path, 'host = "::"\n'), shop=tmp_path)
    named = load_config(settings(tmp_path, 'host = "0.0.0.0"\npublic_hosts = ["v.shop.example"]\n'), shop=tmp_path)
    assert named.trusted_hosts[0] == "v.shop.example" and named.secure
    assert load_config(shop=tmp_path, host="192.168.4.7").trusted_hosts[0] == "192.168.4.7"


def test_the_command_line_counts_before_the_file(tmp_path: Path) -> None:
    file = settings(tmp_path, 'shop = "here"\nport = 9000\n')
    assert load_config(file).shop == tmp_path / "here"
    config = load_config(file, shop=tmp_path / "there", port=9001)
    assert (config.shop, config.port) == (tmp_path / "there", 9001)
    with pytest.raises(MachineError, match="port"):
        load_config(file, port=70000)


def test_a_shop_has_to_be_named(tmp_path: Path) -> None:
    with pytest.raises(MachineError, match="shop: got nothing"):
        load_config(settings(tmp_path, "port = 9000\n"))


def test_secure_cookies_can_be_asked_for_on_loopback_behind_a_proxy(tmp_path: Path) -> None:
    config = load_config(settings(tmp_path, "secure_cookies = true\nproxy_hops = 1\n"), shop=tmp_path)
    assert config.secure and config.cookie == "__Host-verifier"
