"""This machine's own certificate, by which phones are served over HTTPS.

Browsers give a phone's attitude to a secure page only (W3C Device Orientation and Motion), and no
authority vouches for an address in a home. So the coach vouches for itself: a key and a certificate
made here (X.509, RFC 5280), kept in one file that nobody but this machine's user may read, and kept
the same as long as it will do, for every phone has to be told once to accept it.
"""

from __future__ import annotations

import contextlib
import datetime
import ipaddress
import os
import ssl
import stat
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from coach.problems import Problem, written
from coach.shelf import data_folder, made

FILE = "certificate.pem"

_BEFORE = datetime.timedelta(days=30)
_AFTER = datetime.timedelta(days=367)
"""It is good from before it is made, and renewed as long before its end: a phone's clock may say
another day than this machine's. All in all fewer than the 398 days that some browsers take at most
(from memory)."""

_MOST_ADDRESSES = 32
_MOST_BYTES = 65536

_NOT_OURS = (
    OSError,
    ValueError,
    TypeError,
    UnsupportedAlgorithm,
    InvalidSignature,
    # None of which is a ValueError.
    x509.DuplicateExtension,
    x509.ExtensionNotFound,
    x509.InvalidVersion,
    x509.UnsupportedGeneralNameType,
)

_NAME = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Chair-flying coach")])


@dataclass(frozen=True)
class Certificate:
    """What this machine shows to phones.

    Attributes:
        pem: it, without its key, as text.
        fingerprint: its SHA-256, in pairs of digits as browsers show it.
        context: what connections are secured with.
        kept: whether it is the same the next time; else phones have to accept it anew.
    """

    pem: str
    fingerprint: str
    context: ssl.SSLContext
    kept: bool


def certificate(addresses: Iterable[str], names: Iterable[str]) -> Certificate:
    """The kept one where it will do, else a new one, which is kept.

    One will not do that is damaged or not one of ours, that others on this machine may have read,
    that is not good today or not for long, or that leaves out where the machine is found. A new one
    also has the addresses that the last one had: who goes from one network to another and back
    comes back to one that phones have accepted.

    Args:
        addresses: this machine's, IPv4 in numbers.
        names: what it is called.

    Raises:
        Problem: not even a temporary file can be written.
    """
    found, called = list(addresses), [name for name in names if name.isascii()]
    place = data_folder() / FILE
    known, text = _known(place)
    earlier = _addresses(known) if known is not None else []
    if known is None or not _does(known, found, called):
        # Those of today first.
        wanted = list(dict.fromkeys([*found, *earlier]))[:_MOST_ADDRESSES]
        text = _made(wanted, called)
    try:
        if known is None or text != place.read_bytes():
            made(place.parent)
            with written(place, private=True) as part:
                part.write_bytes(text)
        kept = True
    except (OSError, Problem):
        kept = False
    one = x509.load_pem_x509_certificate(text)
    return Certificate(
        one.public_bytes(serialization.Encoding.PEM).decode(),
        one.fingerprint(hashes.SHA256()).hex(":").upper(),
        _context(place if kept else None, text),
        kept,
    )


def _known(place: Path) -> tuple[x509.Certificate | None, bytes]:
    """The kept certificate, and its whole file; None where it is none of ours."""
    try:
        about = place.stat()
        if not stat.S_ISREG(about.st_mode) or about.st_size > _MOST_BYTES:
            return None, b""
        if os.name == "posix" and (about.st_mode & 0o077 or about.st_uid != os.getuid()):
            return None, b""
        text = place.read_bytes()
        key = serialization.load_pem_private_key(text, None)
        one = x509.load_pem_x509_certificate(text)
        if not isinstance(key, ec.EllipticCurvePrivateKey) or text != _text(key, one):
            return None, b""
        if key.public_key() != one.public_key():
            return None, b""
        one.verify_directly_issued_by(one)
        _addresses(one)
    except _NOT_OURS:
        return None, b""
    return one, text


def _does(one: x509.Certificate, addresses: list[str], names: list[str]) -> bool:
    """Whether it is good today and for long enough, and for where this machine is found."""
    now = _now()
    good = one.not_valid_before_utc <= now and now + _BEFORE <= one.not_valid_after_utc
    called = _others(one).get_values_for_type(x509.DNSName)
    return good and set(addresses) <= set(_addresses(one)) and set(names) <= set(called)


def _now() -> datetime.datetime:
    return datetime.datetime.now(datetime.timezone.utc)


def _others(one: x509.Certificate) -> x509.SubjectAlternativeName:
    return one.extensions.get_extension_for_class(x509.SubjectAlternativeName).value


def _addresses(one: x509.Certificate) -> list[str]:
    return [str(address) for address in _others(one).get_values_for_type(x509.IPAddress)]


def _made(addresses: list[str], names: list[str]) -> bytes:
    """A new key and its certificate."""
    key = ec.generate_private_key(ec.SECP256R1())
    now = _now()
    others = [
        *(x509.DNSName(name) for name in sorted(names)),
        *(x509.IPAddress(ipaddress.ip_address(one)) for one in addresses),
    ]
    public = key.public_key()
    identified = x509.SubjectKeyIdentifier.from_public_key(public)
    one = (
        x509.CertificateBuilder()
        .subject_name(_NAME)
        .issuer_name(_NAME)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _BEFORE)
        .not_valid_after(now + _AFTER)
        .add_extension(x509.SubjectAlternativeName(others), critical=False)
        # It vouches for this machine, and can vouch for nobody else.
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(identified, critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(identified),
            critical=False,
        )
        .sign(key, hashes.SHA256())
    )
    return _text(key, one)


def _text(key: ec.EllipticCurvePrivateKey, one: x509.Certificate) -> bytes:
    """The file: both in one, so that they always belong together."""
    pem = serialization.Encoding.PEM
    form, open_ = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    return key.private_bytes(pem, form, open_) + one.public_bytes(pem)


def _context(kept: Path | None, text: bytes) -> ssl.SSLContext:
    """What the library of TLS makes of it, which reads nothing but files."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    try:
        with contextlib.nullcontext(kept) if kept else _for_a_moment(text) as place:
            context.load_cert_chain(place)
    except OSError as error:
        why = error.strerror or error
        raise Problem(f"The certificate for phones cannot be written: {why}.") from None
    return context


@contextlib.contextmanager
def _for_a_moment(text: bytes) -> Iterator[Path]:
    handle, name = tempfile.mkstemp()  # nobody else may read such a file
    place = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text)
        yield place
    finally:
        place.unlink(missing_ok=True)
