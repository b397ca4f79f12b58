"""The certificate of the shop floor's server: one that this program makes itself, kept, and its fingerprint."""

import ipaddress
import ssl
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

from pipeline.pages import devices

LASTS_DAYS = 397
"""Some phones trust none that lasts longer."""
_RENEWED_DAYS = 30


def own(folder: Path, address: str, now: datetime) -> tuple[Path, Path]:
    """The shop's own certificate for an address and its key, as files; made where there is none that holds."""
    certificate, key = files(folder, address)
    if not _holds(certificate, key, address, now):
        made, made_key = _made(address, now)
        devices.put_private(key, made_key)
        devices.put_private(certificate, made)
    return certificate, key


def files(folder: Path, address: str) -> tuple[Path, Path]:
    """Where the shop's own certificate for an address is kept, and its key."""
    home, named = devices.home_of(folder), address.replace(":", "-")  # no sign that a file's name can't have
    return home / f"certificate-{named}.pem", home / f"key-{named}.pem"


def fingerprint(certificate: Path) -> str:
    """SHA-256 of the certificate as phones show it: `A1:B2:…`."""
    pem = certificate.read_text(encoding="ascii")
    first = pem[pem.index("-----BEGIN CERTIFICATE-----") :].partition("-----END CERTIFICATE-----")
    digest = sha256(ssl.PEM_cert_to_DER_cert(first[0] + first[1])).hexdigest().upper()
    return ":".join(digest[at : at + 2] for at in range(0, len(digest), 2))


def _holds(certificate: Path, key: Path, address: str, now: datetime) -> bool:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        known = x509.load_pem_x509_certificate(certificate.read_bytes())
        its_key = load_pem_private_key(key.read_bytes(), None)
        names = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, x509.ExtensionNotFound):
        return False
    lasts = known.not_valid_before_utc <= now < known.not_valid_after_utc - timedelta(days=_RENEWED_DAYS)
    of_address = ipaddress.ip_address(address) in names.get_values_for_type(x509.IPAddress)
    return lasts and of_address and its_key.public_key() == known.public_key()


def _made(address: str, now: datetime) -> tuple[bytes, bytes]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Kerfledger shop floor")])
    begins = now.astimezone(UTC) - timedelta(hours=1)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + timedelta(days=LASTS_DAYS))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False)
        # it vouches for this one address: a phone that is told to trust it trusts no other page by it
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return certificate.public_bytes(Encoding.PEM), plain
