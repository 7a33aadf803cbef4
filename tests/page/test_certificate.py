"""The machine's own certificate: made once, kept to itself, and anew only where it must be."""

from __future__ import annotations

import datetime
import os
import random
import socket
import ssl
import stat
import threading
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa

from coach.page.server import certificate as module
from coach.page.server.certificate import FILE, Certificate, certificate

OWN = ["127.0.0.1", "10.1.2.3"]
NAMES = ["localhost", "here.local"]
DAY = datetime.timedelta(days=1)

POSIX = pytest.mark.skipif(os.name != "posix", reason="only there a file has such a mode")


@pytest.fixture
def place(home: Path) -> Path:
    return home / FILE


def set_to(monkeypatch: pytest.MonkeyPatch, when: datetime.datetime) -> None:
    """This machine's clock."""
    monkeypatch.setattr(module, "_now", lambda: when)


def shaken(one: Certificate, name: str, *, trusting: str | None = None) -> str:
    """The protocol that a client settles on which trusts that certificate, and calls it so."""
    trust = ssl.create_default_context(cadata=trusting or one.pem)
    trust.verify_flags |= ssl.VERIFY_X509_STRICT
    here, there = socket.socketpair()

    def answered() -> None:
        try:
            one.context.wrap_socket(there, server_side=True).close()
        except OSError:
            there.close()

    thread = threading.Thread(target=answered)
    thread.start()
    try:
        with trust.wrap_socket(here, server_hostname=name) as secured:
            return str(secured.version())
    finally:
        here.close()
        thread.join()


def test_the_certificate_stays_the_same_as_long_as_it_will_do(place: Path) -> None:
    one = certificate(OWN, NAMES)
    assert one.kept
    for addresses, names in ((OWN, NAMES), (OWN[:1], NAMES), (OWN, NAMES[:1])):
        assert certificate(addresses, names).fingerprint == one.fingerprint
    assert one.pem in place.read_text() and "PRIVATE" not in one.pem


def test_it_is_taken_by_who_trusts_it_for_this_machines_addresses_and_names_alone(
    place: Path,
) -> None:
    one = certificate(OWN, NAMES)
    for name in (*OWN, *NAMES):
        assert shaken(one, name) in ("TLSv1.2", "TLSv1.3")
    for name in ("10.1.2.4", "example.org"):
        with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
            shaken(one, name)
    place.unlink()
    other = certificate(OWN, NAMES)
    with pytest.raises(ssl.SSLCertVerificationError):
        shaken(one, OWN[0], trusting=other.pem)


def test_it_vouches_for_nobody_else(place: Path) -> None:
    one = x509.load_pem_x509_certificate(certificate(OWN, NAMES).pem.encode())
    assert not one.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    # CA/Browser Forum, Baseline Requirements 6.3.2, at most 398 days (from memory).
    assert one.not_valid_after_utc - one.not_valid_before_utc <= 398 * DAY


def test_no_older_tls_is_spoken() -> None:
    assert ssl.TLSVersion.TLSv1_2 <= certificate(OWN, NAMES).context.minimum_version


@POSIX
def test_nobody_else_on_this_machine_may_read_the_key(place: Path) -> None:
    before = os.umask(0)
    try:
        one = certificate(OWN, NAMES)
    finally:
        os.umask(before)
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert {path.name for path in place.parent.iterdir()} <= {FILE, "cache"}
    place.chmod(0o640)  # now somebody else may have read it
    assert certificate(OWN, NAMES).fingerprint != one.fingerprint
    assert stat.S_IMODE(place.stat().st_mode) == 0o600


def test_in_another_network_it_is_made_anew_and_good_for_the_last_one_too(place: Path) -> None:
    home = certificate(["127.0.0.1", "10.1.2.3"], NAMES)
    school = certificate(["127.0.0.1", "192.168.4.9"], NAMES)
    assert school.fingerprint != home.fingerprint
    assert certificate(["127.0.0.1", "10.1.2.3"], NAMES).fingerprint == school.fingerprint
    for number in range(60):
        last = certificate(["127.0.0.1", f"10.9.9.{number}"], NAMES)
    assert shaken(last, "10.9.9.59") and len(last.pem) < 4000


@pytest.mark.parametrize(
    ("days", "same"),
    [(0, True), (300, True), (336, True), (338, False), (400, False), (-29, True), (-31, False)],
)
def test_it_is_renewed_before_its_end_and_where_the_clock_was_wrong(
    place: Path, monkeypatch: pytest.MonkeyPatch, days: int, same: bool
) -> None:
    one = certificate(OWN, NAMES)
    then = datetime.datetime.now(datetime.timezone.utc) + days * DAY
    set_to(monkeypatch, then)
    again = certificate(OWN, NAMES)
    assert (again.fingerprint == one.fingerprint) == same
    read = x509.load_pem_x509_certificate(again.pem.encode())
    assert read.not_valid_before_utc <= then <= read.not_valid_after_utc - 30 * DAY


@pytest.mark.parametrize("year", [1970, 2000, 2099])
def test_a_clock_that_is_years_off_makes_one_that_is_good_by_that_clock(
    place: Path, monkeypatch: pytest.MonkeyPatch, year: int
) -> None:
    set_to(monkeypatch, datetime.datetime(year, 1, 1, tzinfo=datetime.timezone.utc))
    wrong = certificate(OWN, NAMES)
    assert certificate(OWN, NAMES).fingerprint == wrong.fingerprint
    monkeypatch.undo()
    assert certificate(OWN, NAMES).fingerprint != wrong.fingerprint


def strange(place: Path) -> dict[str, bytes]:
    """Files of somebody else's in its place."""
    ours = place.read_bytes()
    key_text, begun, rest = ours.partition(b"-----BEGIN CERTIFICATE")
    letters = ssl.PEM_cert_to_DER_cert((begun + rest).decode())
    third, seventh = b"\xa0\x03\x02\x01\x02", b"\xa0\x03\x02\x01\x06"  # RFC 5280, 4.1.2.1
    assert letters.count(third) == 1
    later = ssl.DER_cert_to_PEM_cert(letters.replace(third, seventh)).encode()
    key = ec.generate_private_key(ec.SECP256R1())
    large = rsa.generate_private_key(65537, 2048)
    form = serialization.PrivateFormat.PKCS8
    pem, nothing = serialization.Encoding.PEM, serialization.NoEncryption()
    now = datetime.datetime.now(datetime.timezone.utc)
    other = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(x509.Name([]))
        .public_key(large.public_key())
        .serial_number(1)
        .not_valid_before(now - DAY)
        .not_valid_after(now + 300 * DAY)
        .sign(large, hashes.SHA256())
    )
    return {
        "empty": b"",
        "letters": b"hello\0" * 100,
        "half": ours[: len(ours) // 2],
        "key alone": key_text,
        "certificate alone": begun + rest,
        "another key": key.private_bytes(pem, form, nothing) + begun + rest,
        "locked": key.private_bytes(pem, form, serialization.BestAvailableEncryption(b"x"))
        + begun
        + rest,
        "another kind": large.private_bytes(pem, form, nothing) + other.public_bytes(pem),
        "two certificates": ours + begun + rest,
        "a version that nobody knows": key_text + later,
        "large": ours + b"\n" * 100_000,
    }


def test_a_damaged_or_foreign_file_is_replaced(place: Path) -> None:
    seen = {certificate(OWN, NAMES).fingerprint}
    for what, text in strange(place).items():
        place.write_bytes(text)
        one = certificate(OWN, NAMES)
        assert one.kept and one.fingerprint not in seen, what
        assert shaken(one, OWN[0]), what
        assert certificate(OWN, NAMES).fingerprint == one.fingerprint, what
        seen.add(one.fingerprint)


def test_whatever_becomes_of_the_file_phones_are_answered(place: Path) -> None:
    for seed in range(150):
        chance = random.Random(seed)
        certificate(OWN, NAMES)
        text = bytearray(place.read_bytes())
        for _ in range(chance.randrange(1, 8)):
            at = chance.randrange(len(text))
            if chance.random() < 0.2:
                del text[at : at + chance.randrange(1, 40)]
            else:
                text[at] = chance.randrange(256)
        place.write_bytes(text)
        assert shaken(certificate(OWN, NAMES), OWN[0]), seed


@POSIX
def test_what_lies_there_that_is_no_file_does_no_harm(place: Path, tmp_path: Path) -> None:
    os.mkfifo(place)  # who reads it would wait for ever
    one = certificate(OWN, NAMES)
    assert one.kept and place.is_file()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("not to be written to")
    place.unlink()
    place.symlink_to(elsewhere)
    assert certificate(OWN, NAMES).kept and not place.is_symlink()
    assert elsewhere.read_text() == "not to be written to"
    place.unlink()
    place.mkdir()
    unkept = certificate(OWN, NAMES)
    assert not unkept.kept and shaken(unkept, OWN[0])


def test_where_nothing_can_be_kept_phones_are_answered_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "file" / "home"))
    one, other = certificate(OWN, NAMES), certificate(OWN, NAMES)
    assert not one.kept and one.fingerprint != other.fingerprint
    assert shaken(one, OWN[0])


def test_a_name_that_no_certificate_can_hold_is_left_out(place: Path) -> None:
    one = certificate(OWN, ["localhost", "küche.local"])
    assert one.kept and shaken(one, "localhost")
    assert certificate(OWN, ["localhost", "küche.local"]).fingerprint == one.fingerprint
