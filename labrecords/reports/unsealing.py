"""What the seal of a PDF proves: who signed which bytes, what is attached, and what was done to the file since.

The file is a stranger's: nothing in it is trusted, what it unpacks to is bounded, and nothing is fetched for it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from io import BytesIO

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec, rsa

from labrecords.errors import ReportUnreadable
from labrecords.reports.certificate import LEAST_RSA_BITS
from labrecords.reports.seal import DIGEST, FIELD, in_lower_form

MOST_BYTES = 100 * 2**20  # of a file
MOST_UNPACKED = 64 * 2**20  # of all attached files together
CATALOG_MAY_GET = {"/Version", "/Names", "/AF", "/AcroForm", "/Perms", "/Metadata", "/Extensions"}
SPEC_HAS = {"/Type", "/F", "/UF", "/EF", "/Desc", "/AFRelationship"}  # description of an attached file
INFO_STAYS = ("/Title", "/Author", "/Subject", "/Creator", "/Keywords", "/CreationDate")


@dataclass(frozen=True)
class Unsealed:
    """A file up to the end of what its seal covers; `proven` holds (what, holds, why) of each thing looked at."""

    data: bytes
    attached: dict[str, bytes]
    certificate: x509.Certificate | None = None
    signed_at: datetime | None = None
    is_turned: bool = False  # the signature has the form that this program does not make (see `seal.in_lower_form`)
    rendered_xref: int | None = None  # where the cross-references of what was rendered start
    proven: list[tuple[str, bool, str]] = field(default_factory=list)


def unsealed(data: bytes, name: str) -> Unsealed:
    """Open a file; refuses what is no PDF, is cut off, is encrypted, or unpacks to more than it should."""
    reader = _opened(data, name)
    try:
        found = _first_signature(reader)
        if found is not None:
            return _judged(data, name, reader, *found)
        why = "the file is not signed"
    except ReportUnreadable:
        raise
    except Exception as problem:  # whatever a stranger's bytes make a parser raise
        why = f"it cannot be read ({_said(problem)})"
    return Unsealed(data, _attached(reader, name), proven=[("Signature", False, why)])


def _judged(data, name, reader, signature, certificate):
    *_, start, length = signature.byte_range
    end = int(start) + int(length)
    later = [("Nothing was added after the seal", end == len(data), _added(reader, signature, len(data) - end))]
    if end < len(data):
        data = data[:end]
        reader = _opened(data, name)
        signature, certificate = _first_signature(reader)
    proven = [*_signature(signature, data), *later, *_pages(reader), *_listed(reader)]
    return Unsealed(
        data,
        _attached(reader, name),
        certificate,
        signature.self_reported_timestamp,
        _is_turned(signature, certificate),
        reader.xrefs.get_startxref_for_revision(0),
        proven,
    )


def _opened(data, name):
    from pyhanko.pdf_utils.decode_limits import DecodeLimits, DocumentDecodeBudget, StreamDecodeLimits
    from pyhanko.pdf_utils.reader import PdfFileReader

    if len(data) > MOST_BYTES:
        raise ReportUnreadable(file=name, why=f"it is larger than {MOST_BYTES // 2**20} MB")
    if not data.startswith(b"%PDF-"):
        raise ReportUnreadable(file=name, why="it is no PDF")
    limits = DecodeLimits(
        per_stream=StreamDecodeLimits(max_output_size=MOST_UNPACKED),
        document_budget=DocumentDecodeBudget(base_allowance=MOST_UNPACKED, max_ratio=0),
    )
    try:
        reader = PdfFileReader(BytesIO(data), decode_limits=limits)
        is_encrypted = reader.encrypted
        reader.root["/Pages"]
    except Exception as problem:  # as above
        raise ReportUnreadable(file=name, why=f"it is no whole PDF ({_said(problem)})") from None
    if is_encrypted:
        raise ReportUnreadable(file=name, why="it is encrypted; issued reports are not")
    return reader


def _said(problem):
    return " ".join(str(problem).split())[:200] or type(problem).__name__


def _first_signature(reader):
    """The signature of the oldest revision with its certificate; None where nothing is signed."""
    found = sorted(reader.embedded_signatures, key=lambda item: item.signed_revision)
    if not found:
        return None
    if not (len(found[0].byte_range) == 4 and found[0].byte_range[0] == 0):
        raise ValueError("its byte range is not that of one signature")
    return found[0], x509.load_der_x509_certificate(found[0].signer_cert.dump())


def _added(reader, signature, count):
    if count <= 0:
        return ""
    updates = reader.xrefs.total_revisions - signature.signed_revision - 1
    return (
        f"{count} bytes, {updates} incremental update{'' if updates == 1 else 's'}: what is checked is the file before"
    )


def _signature(signature, data):
    from pyhanko.sign.validation.generic_cms import validate_sig_integrity

    try:
        signature.compute_integrity_info(skip_diff=True)
        whole = signature.coverage.name == "ENTIRE_FILE" and _is_exact(signature, data)
        digest = signature.compute_digest()
        is_intact, is_valid = validate_sig_integrity(signature.signer_info, signature.signer_cert, "data", digest)
    except Exception as problem:  # as above
        return [("Signature", False, f"it cannot be checked ({_said(problem)})")]
    return [
        (
            "No byte that the signature covers was changed",
            bool(is_intact),
            "" if is_intact else "the bytes are not those signed",
        ),
        (
            "Signed with the key of the certificate",
            bool(is_valid),
            "" if is_valid else "the signature was not made with the key of this certificate",
        ),
        (
            "The signature covers every byte but itself",
            bool(whole),
            "" if whole else "there are bytes that it does not cover, or its own form was changed",
        ),
    ]


def _is_turned(signature, certificate):
    if not isinstance(certificate.public_key(), ec.EllipticCurvePublicKey):
        return False
    made = signature.signer_info["signature"].native
    try:
        return in_lower_form(made) != made
    except ValueError:  # it is no such signature at all, which the check of it says
        return False


def _is_exact(signature, data):
    """Whether the one part that no signature can cover, its own place in the file, holds it and nothing else."""
    start, end = signature.byte_range[1], signature.byte_range[2]
    container = _container(signature)
    held = container.hex().upper().encode()
    place = data[start:end]
    return container and place == b"<" + held + b"0" * (len(place) - len(held) - 2) + b">"


def _container(signature):
    """The CMS container built anew from what is signed, the certificate that it names, and the signature itself."""
    from asn1crypto import algos, cms

    info, certificate = signature.signer_info, signature.signer_cert
    algorithm = _algorithm(x509.load_der_x509_certificate(certificate.dump()).public_key())
    if algorithm is None:
        return b""
    digest = algos.DigestAlgorithm({"algorithm": DIGEST})
    sid = {"issuer": certificate.issuer, "serial_number": certificate.serial_number}
    signer = cms.SignerInfo(
        {
            "version": "v1",
            "sid": cms.SignerIdentifier({"issuer_and_serial_number": cms.IssuerAndSerialNumber(sid)}),
            "digest_algorithm": digest,
            "signature_algorithm": algos.SignedDigestAlgorithm({"algorithm": algorithm}),
            "signed_attrs": info["signed_attrs"],
            "signature": info["signature"].native,
        }
    )
    content = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": cms.DigestAlgorithms((digest,)),
            "encap_content_info": {"content_type": "data"},
            "certificates": [cms.CertificateChoices(name="certificate", value=certificate)],
            "signer_infos": [signer],
        }
    )
    return cms.ContentInfo({"content_type": cms.ContentType("signed_data"), "content": content}).dump()


def _algorithm(key):
    if isinstance(key, ec.EllipticCurvePublicKey) and isinstance(key.curve, ec.SECP256R1):
        return f"{DIGEST}_ecdsa"
    if isinstance(key, rsa.RSAPublicKey) and key.key_size >= LEAST_RSA_BITS:
        return f"{DIGEST}_rsa"
    return None


def _pages(reader):
    """Whether the seal's own revision only added to what was rendered, and changed no page."""
    try:
        why = _changed(reader)
    except Exception as problem:  # as above
        why = f"they cannot be compared ({_said(problem)})"
    return [("The seal changed no page", not why, why)]


def _changed(reader):
    if reader.xrefs.total_revisions != 2:
        return f"the file has {reader.xrefs.total_revisions} revisions; rendered and sealed, it has 2"
    before, root = reader.get_historical_resolver(0), reader.root
    held = {ref for ref in reader.xrefs.explicit_refs_in_revision(1) if _is_in(reader, ref, 0)}
    pages = [page.reference for page in _kids(before, before.root["/Pages"])]
    for ref in held:
        old, new = before.get_object(ref), reader.get_object(ref)
        if ref == reader.root_ref:
            extra = set(new) - set(old) - CATALOG_MAY_GET
            changed = extra or any(old.raw_get(key) != new.raw_get(key) for key in old)
        elif ref == reader.trailer.raw_get("/Info").reference:
            changed = any(old.get(key) != new.get(key) for key in INFO_STAYS)
        elif ref in pages:
            changed = not _only_got_the_field(old, new)
        else:
            changed = True
        if changed:
            return f"object {ref.idnum} was changed"
    if reader.trailer.raw_get("/Root").reference != before.trailer_view.raw_get("/Root").reference:
        return "another catalog was put in its place"
    if set(root["/Names"]) != {"/EmbeddedFiles"} or set(root["/AcroForm"]) != {"/Fields", "/SigFlags"}:
        return "more than files and the signature was added"
    return "" if len(root["/AcroForm"]["/Fields"]) == 1 else "there are further form fields"


def _is_in(reader, ref, revision):
    return reader.xrefs.get_historical_ref(ref, revision) is not None


def _kids(resolver, node):
    """References of the pages below a node of the page tree."""
    for kid in node["/Kids"]:
        held = kid.get_object()
        if held["/Type"] == "/Pages":
            yield from _kids(resolver, held)
    yield from (node["/Kids"].raw_get(place) for place in range(len(node["/Kids"])))


def _only_got_the_field(old, new):
    """A page may get the signature's field, which has no size and no look."""
    same = set(new) - set(old) == {"/Annots"} and all(old.raw_get(key) == new.raw_get(key) for key in old)
    seal = new["/Annots"][0]
    is_unseen = seal["/T"] == FIELD and "/AP" not in seal and not any(seal["/Rect"])
    return same and is_unseen and len(new["/Annots"]) == 1


def _listed(reader):
    """Whether any reader finds the very files that are checked here."""
    try:
        why = _shadow(reader)
    except Exception as problem:  # as above
        why = f"they cannot be compared ({_said(problem)})"
    return [("Every reader finds the same attached files", not why, why)]


def _shadow(reader):
    """What one reader could show in place of what another does; nothing in a file as it is sealed."""
    tree = reader.root["/Names"]["/EmbeddedFiles"]
    if set(tree) != {"/Names"}:
        return "there are further lists of attached files beside the one that is checked"
    row = list(tree["/Names"])
    titles, refs = [str(title.get_object()) for title in row[::2]], row[1::2]
    for title, ref in zip(titles, refs, strict=True):
        if why := _ambiguous(title, ref.get_object()):
            return f"{title[:80]}: {why}"
    if list(reader.root["/AF"]) != refs:
        return "the files associated with the document are others than those attached"
    if _count_of_files(reader) != len(refs):
        return "there are files in other places than the list of attached files"
    return ""


def _ambiguous(title, spec):
    if further := set(spec) - SPEC_HAS:
        return f"it is described with further entries ({', '.join(sorted(further))[:80]})"
    if {str(spec[key]) for key in ("/F", "/UF") if key in spec} != {title}:
        return "it is listed by one name and described by another"
    contents = spec["/EF"]
    if set(contents) - {"/F", "/UF"} or any(contents.raw_get(key) != contents.raw_get("/F") for key in contents):
        return "it has two contents"
    return "its content stands outside the document" if "/F" in contents["/F"] else ""


def _count_of_files(reader):
    """Descriptions of files anywhere in the document, also where no list names them: on a page, say."""
    revisions = range(reader.xrefs.total_revisions)
    refs = set().union(*(reader.xrefs.explicit_refs_in_revision(revision) for revision in revisions))
    return sum(_files_in(reader.get_object(ref)) for ref in refs)


def _files_in(held):
    """Of one object: references are not followed, they lead to objects that are counted themselves."""
    from pyhanko.pdf_utils.generic import ArrayObject, DictionaryObject

    if isinstance(held, DictionaryObject):
        return ("/EF" in held) + sum(_files_in(held.raw_get(key)) for key in held)
    if isinstance(held, ArrayObject):
        return sum(_files_in(held.raw_get(place)) for place in range(len(held)))
    return 0


def _attached(reader, name):
    """Every attached file by its name."""
    from pyhanko.pdf_utils.misc import PdfDecodeLimitError

    try:
        tree = reader.root["/Names"]["/EmbeddedFiles"] if "/Names" in reader.root else {}
        row = [item.get_object() for item in tree["/Names"]] if "/Names" in tree else []
        found = {}
        for title, spec in zip(row[::2], row[1::2], strict=True):
            if str(title) in found:  # a reader could show the one and this program the other
                raise ReportUnreadable(file=name, why=f"two attached files are called {str(title)[:80]}")
            found[str(title)] = spec["/EF"]["/F"].data
    except ReportUnreadable:
        raise
    except PdfDecodeLimitError:
        most = MOST_UNPACKED // 2**20
        raise ReportUnreadable(file=name, why=f"its attached files unpack to more than {most} MB") from None
    except Exception as problem:  # as above
        raise ReportUnreadable(file=name, why=f"its attached files cannot be read ({_said(problem)})") from None
    return found
