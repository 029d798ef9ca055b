"""The seal of an issued PDF: its evidence as attached files and the lab's signature over every byte (PAdES B-B)."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from io import BytesIO

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature, encode_dss_signature

from labrecords.reports.certificate import LabCertificate

FIELD = "Seal"
DIGEST = "sha256"
SPARE = 16  # bytes: an ECDSA signature is not always of the same length
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551  # of P-256 (FIPS 186-4, D.1.2.3)


def sealed(
    file: bytes, attached: dict[str, bytes], about: dict[str, str], *, by: LabCertificate, at: datetime, reason: str
) -> bytes:
    """The file with everything attached, signed as a whole. What was rendered stays as it is, byte for byte."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(BytesIO(file))
    for name in sorted(attached):
        _attach(writer, name, attached[name], about[name], at)
    return _signed(writer, by, at, reason)


def _attach(writer, name, data, description, at):
    from pyhanko.pdf_utils import embed
    from pyhanko.pdf_utils.generic import pdf_name

    params = embed.EmbeddedFileParams(creation_date=at, modification_date=at)
    mime = {"csv": "text/csv", "json": "application/json"}[name.rpartition(".")[2]]
    held = embed.EmbeddedFileObject.from_file_data(writer, data, params=params, mime_type=mime)
    spec = embed.FileSpec(
        file_spec_string=name,
        file_name=name,
        embedded_data=held,
        description=description,
        af_relationship=pdf_name("/Data"),
    )
    embed.embed_file(writer, spec)


def _signed(writer, by, at, reason):
    from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
    from pyhanko.sign.signers import cms_embedder
    from pyhanko.sign.signers.pdf_byterange import SignatureObject

    signer = _signer(by)
    length = len(_container(signer, bytes(32)).dump()) + SPARE
    steps = cms_embedder.PdfCMSEmbedder().write_cms(field_name=FIELD, writer=writer)
    next(steps)
    placeholder = SignatureObject(
        timestamp=at, subfilter=SigSeedSubFilter.PADES, reason=reason, bytes_reserved=2 * length
    )
    # A certification signature: a reader warns of whatever is added later.
    only = cms_embedder.SigMDPSetup(md_algorithm=DIGEST, certify=True, docmdp_perms=MDPPerm.NO_CHANGES)
    steps.send(cms_embedder.SigObjSetup(sig_placeholder=placeholder, mdp_setup=only))
    prepared, out = steps.send(cms_embedder.SigIOSetup(md_algorithm=DIGEST))
    steps.send(_container(signer, prepared.document_digest))
    return out.getvalue()


def _signer(by):
    from asn1crypto import keys, x509
    from cryptography.hazmat.primitives import serialization
    from pyhanko.sign.signers import SimpleSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    key = by.key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    certificate = by.certificate.public_bytes(serialization.Encoding.DER)

    class Signer(SimpleSigner):
        def sign_raw(self, data, digest_algorithm):
            made = super().sign_raw(data, digest_algorithm)
            return in_lower_form(made) if isinstance(by.key, ec.EllipticCurvePrivateKey) else made

    return Signer(
        signing_cert=x509.Certificate.load(certificate),
        signing_key=keys.PrivateKeyInfo.load(key),
        # The lab's certificate alone: what no signature covers has no place in the file.
        cert_registry=SimpleCertificateStore(),
    )


def in_lower_form(signature: bytes) -> bytes:
    """Of the two forms of an ECDSA signature, (r, s) and (r, n − s), the one with the smaller number.

    Anybody can turn the one into the other, and both verify; so only one is made.
    """
    r, s = decode_dss_signature(signature)
    return encode_dss_signature(r, min(s, ORDER - s))


def _container(signer, digest):
    """The CMS signature over a digest of the file."""
    # In a thread of its own, since the thread that issues may already run an event loop.
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, signer.async_sign(digest, DIGEST, use_pades=True)).result()
