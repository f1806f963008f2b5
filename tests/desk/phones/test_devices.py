import contextlib
import threading
from collections.abc import Callable, Iterator

import pytest
from sqlalchemy.orm import Session

from app.desk.phones.devices import CODE_LIFE_S, GUESSES, SEEN_EVERY, PairedDevices, PairingCodes
from app.library import Library
from app.library_errors import LibraryFull
from app.records import Device
from app.records.base import now


class Clock:
    def __init__(self) -> None:
        self.at = 0.0

    def __call__(self) -> float:
        return self.at


def test_a_code_pairs_once() -> None:
    codes = PairingCodes()
    code = codes.open()
    assert codes.knows(code.long)
    assert codes.redeem(code.long)
    assert not codes.redeem(code.long)
    assert not codes.redeem(code.short), "the typed form of a used code is used up as well"
    assert not codes.is_open()


def test_a_code_may_be_typed_as_one_likes() -> None:
    codes = PairingCodes()
    short = codes.open().short
    assert codes.redeem(f" {short[:4].lower()}-{short[4:].lower()} ")


def test_a_code_ends_by_itself() -> None:
    clock = Clock()
    codes = PairingCodes(clock)
    code = codes.open()
    clock.at = CODE_LIFE_S - 1
    assert codes.is_open()
    clock.at = CODE_LIFE_S + 1
    assert not codes.is_open()
    assert not codes.redeem(code.long)


def test_a_few_wrong_guesses_close_every_code() -> None:
    codes = PairingCodes()
    code = codes.open()
    for _ in range(GUESSES - 1):
        assert not codes.knows("WRONGONE")
    assert codes.knows(code.short)
    assert not codes.redeem("WRONGONE")
    assert not codes.is_open()
    assert not codes.redeem(code.long)


def test_a_new_code_closes_the_one_before() -> None:
    codes = PairingCodes()
    first = codes.open()
    codes.open()
    assert not codes.redeem(first.long)


def test_the_token_itself_is_not_kept(library: Library) -> None:
    token = PairedDevices(library).pair("my phone")
    with library.reading() as session:
        (row,) = session.query(Device).all()
    assert token not in (row.token_hash, row.name)
    assert len(token) >= 43, "256 bits"


def test_a_paired_device_is_known_after_a_restart_until_it_is_revoked(library: Library) -> None:
    token = PairedDevices(library).pair("my phone")
    devices = PairedDevices(library)
    device_id = devices.find(token)
    assert device_id is not None
    devices.rename(device_id, "old phone")
    assert [line.name for line in devices.list()] == ["old phone"]
    devices.revoke(device_id)
    assert devices.find(token) is None
    assert not devices.is_paired(device_id)
    assert PairedDevices(library).find(token) is None
    assert devices.list() == []


@pytest.mark.parametrize("token", ["", "x", "0" * 43])
def test_any_other_token_is_nobodys(library: Library, token: str) -> None:
    devices = PairedDevices(library)
    devices.pair("my phone")
    assert devices.find(token) is None


def before_each_commit(monkeypatch: pytest.MonkeyPatch, library: Library, act: Callable[[], None]) -> None:
    """Have something happen, such as a failure, when everything is written but nothing committed."""
    real = library.writing

    @contextlib.contextmanager
    def writing() -> Iterator[Session]:
        with real() as session:
            yield session
            session.flush()
            act()

    monkeypatch.setattr(library, "writing", writing)


def fail() -> None:
    raise LibraryFull("The disk is full.")


def test_a_pairing_that_could_not_be_kept_lets_nobody_in(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PairedDevices(library)
    monkeypatch.setattr("app.desk.phones.devices.secrets.token_urlsafe", lambda size: "the only token")
    before_each_commit(monkeypatch, library, fail)
    with pytest.raises(LibraryFull):
        devices.pair("my phone")
    assert devices.find("the only token") is None


def test_a_revoking_that_could_not_be_kept_shuts_nobody_out(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PairedDevices(library)
    token = devices.pair("my phone")
    device_id = devices.find(token)
    assert device_id is not None
    before_each_commit(monkeypatch, library, fail)
    with pytest.raises(LibraryFull):
        devices.revoke(device_id)
    assert devices.find(token) == device_id


def test_a_device_that_is_revoked_while_it_asks_stays_out(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PairedDevices(library)
    token = devices.pair("my phone")
    (line,) = devices.list()
    later = now() + 2 * SEEN_EVERY
    monkeypatch.setattr("app.desk.phones.devices.now", lambda: later)
    real = library.writing
    revoking = threading.Thread(target=devices.revoke, args=(line.device_id,))

    @contextlib.contextmanager
    def writing() -> Iterator[Session]:
        with real() as session:
            yield session
        if not revoking.ident:  # what find() noted is committed; before it goes on, the desk revokes
            revoking.start()
            revoking.join()

    monkeypatch.setattr(library, "writing", writing)
    assert devices.find(token) is None
    assert not devices.is_paired(line.device_id)
