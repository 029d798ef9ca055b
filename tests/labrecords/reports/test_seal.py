"""The seal of an issued report: every byte is covered, and what stands in it can be seen by any reader."""

import io
import os
import random
import shutil
import stat
import subprocess
import sys
import time
import zlib
from datetime import UTC, datetime, timedelta

import pypdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from django.test import override_settings

from labrecords import settings
from labrecords.errors import CertificateRefused, ReportUnreadable, SettingRefused
from labrecords.reports import certificate, qualification, seal
from labrecords.reports.qualification import package
from labrecords.reports.unsealing import MOST_UNPACKED, unsealed
from tests.labrecords.reports import forging

pytestmark = pytest.mark.django_db  # the session's report is issued in the test database
SEED = 20261125
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def file(issued):
    return issued[1]


@pytest.fixture
def lab(tmp_path):
    with override_settings(DATA=tmp_path, CERTIFICATE_FILE=None, CERTIFICATE_PASSWORD_FILE=None):
        yield tmp_path


def faults(data):
    """What is found to be wrong; a file that cannot be read at all is found as well."""
    try:
        return [what for what, holds, _ in unsealed(data, "x").proven if not holds]
    except ReportUnreadable as refusal:
        return [str(refusal)]


def test_an_issued_file_is_sealed_and_whole(file, issued):
    opened = unsealed(file, "x")
    assert [what for what, holds, _ in opened.proven if not holds] == []
    assert len(opened.proven) == 6
    assert opened.attached == package.files(issued[0])
    assert certificate.fingerprint(opened.certificate) == issued[0]["report"]["certificate"]["fingerprint"]
    assert int(opened.signed_at.timestamp()) == issued[0]["report"]["issued_epoch"]


def test_what_was_rendered_is_the_beginning_of_the_file(file, issued):
    assert file.startswith(qualification.render(issued[0]))


def flipped(file, count, seed):
    draw = random.Random(seed)
    for _ in range(count):
        place = draw.randrange(len(file))
        changed = bytearray(file)
        changed[place] ^= 1 << draw.randrange(8)
        yield place, bytes(changed)


@pytest.mark.parametrize("count", [200, pytest.param(1000, marks=pytest.mark.slow)])
def test_one_flipped_bit_anywhere_is_found(count, file):
    missed = [place for place, changed in flipped(file, count, SEED + count) if not faults(changed)]
    print(f"\nbits flipped: {count}, found: {count - len(missed)} (seed {SEED + count}, file of {len(file)} bytes)")
    assert missed == []


@pytest.mark.parametrize("step", [7, pytest.param(1, marks=pytest.mark.slow)])
def test_one_flipped_bit_in_the_place_of_the_signature_itself_is_found(step, file):
    """No signature covers its own place in the file, so the slow run tries each of its bytes."""
    start, end = forging.place_of_signature(file)
    draw = random.Random(SEED)
    missed = []
    for place in range(start, end, step):
        changed = bytearray(file)
        changed[place] ^= 1 << draw.randrange(8)
        missed += [] if faults(bytes(changed)) else [place]
    assert missed == []


def test_the_same_signature_in_other_letters_or_with_a_filled_gap_is_found(file):
    """Limit: hexadecimal digits of the other case, and zeros behind the signature, would verify all the same."""
    start, end = forging.place_of_signature(file)
    lower = file[:start] + file[start:end].lower() + file[end:]
    padded = file[: end - 2] + b"1" + file[end - 1 :]
    assert faults(lower) == faults(padded) == ["The signature covers every byte but itself"]


def test_the_order_of_the_curve_is_the_one_of_p_256():
    """independent: n − 1 is a key of the curve, n is none; and (n − 1)·G = −G."""
    last, first = (ec.derive_private_key(n, ec.SECP256R1()).public_key().public_numbers() for n in (seal.ORDER - 1, 1))
    assert (last.x, last.y != first.y) == (first.x, True)
    with pytest.raises(ValueError):
        ec.derive_private_key(seal.ORDER, ec.SECP256R1())


def test_a_file_is_sealed_with_the_lower_form_and_the_other_is_told(file, lab, issued):
    by = made(lab)
    for _ in range(8):  # by chance all would be of the lower form once in 256
        data = forging.sealed(qualification.render(issued[0]), {}, by)
        assert not unsealed(data, "x").is_turned
    assert unsealed(forging.turned(file), "x").is_turned
    assert forging.turned(forging.turned(file)) == file


def test_what_is_said_of_a_turned_signature_is_true_of_it(file):
    """Limit: the other form is a valid signature, so no fault; reports of earlier versions have it half of the time."""
    assert forging.turned(file) != file
    assert faults(forging.turned(file)) == []
    said = {what for what, _, _ in unsealed(forging.turned(file), "x").proven}
    assert {"No byte that the signature covers was changed", "The signature covers every byte but itself"} <= said


def test_every_byte_but_the_signature_is_in_its_range(file):
    start, end = forging.place_of_signature(file)
    assert f"/ByteRange [0 {start} {end} {len(file) - end}]".encode() in file


def test_what_is_appended_is_named(file):
    writer = pypdf.PdfWriter(io.BytesIO(file), incremental=True)
    writer.add_metadata({"/Subject": "changed later"})
    out = io.BytesIO()
    writer.write(out)
    data = out.getvalue()
    assert data.startswith(file)
    found = {what: why for what, holds, why in unsealed(data, "x").proven if not holds}
    assert list(found) == ["Nothing was added after the seal"]
    assert "1 incremental update:" in found["Nothing was added after the seal"]
    assert faults(file + b"\n% a comment\n")


def test_a_page_changed_in_the_revision_that_is_signed_is_found(file, issued, tmp_path):
    """Forged: the rendered bytes stay in front, a later revision puts other pages in their place, and all is signed."""
    rendered = qualification.render(issued[0])
    writer = pypdf.PdfWriter(io.BytesIO(rendered), incremental=True)
    writer.pages[0].rotate(180)
    out = io.BytesIO()
    writer.write(out)
    with forging.another_key(tmp_path) as other:
        data = forging.sealed(out.getvalue(), package.files(issued[0]), other)
    assert faults(data) == ["The seal changed no page"]


def test_a_report_without_signature_says_so(issued):
    opened = unsealed(qualification.render(issued[0]), "x")
    assert opened.proven == [("Signature", False, "the file is not signed")]
    assert opened.attached == {}


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda file: b"", "it is no PDF"),
        (lambda file: b"GIF89a" + file, "it is no PDF"),
        (lambda file: b"%PDF-1.4\n", "no whole PDF"),
        (lambda file: file[: len(file) // 2], "no whole PDF"),
        (lambda file: file[:-40], "no whole PDF"),
        (lambda file: b"%PDF-1.7\n" + os.urandom(5000), "no whole PDF"),
    ],
)
def test_what_is_no_whole_pdf_is_refused(spoil, said, file):
    with pytest.raises(ReportUnreadable, match=said):
        unsealed(spoil(file), "x.pdf")


def test_an_encrypted_file_is_refused(file):
    writer = pypdf.PdfWriter(io.BytesIO(file))
    writer.encrypt("x", algorithm="AES-256")
    out = io.BytesIO()
    writer.write(out)
    with pytest.raises(ReportUnreadable, match="encrypted"):
        unsealed(out.getvalue(), "x.pdf")


def bomb(rendered, packed, filters="/FlateDecode"):
    """A PDF with one attached file of the given packed bytes."""
    from pyhanko.pdf_utils import embed, generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(rendered))
    names = generic.ArrayObject([generic.pdf_name(name) for name in filters.split()])
    held = embed.EmbeddedFileObject(writer, {generic.pdf_name("/Filter"): names}, encoded_data=packed)
    embed.embed_file(writer, embed.FileSpec("readings.csv", "readings.csv", held))
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@pytest.mark.parametrize("layers", [1, 2])
def test_an_attached_bomb_is_refused_and_not_unpacked(layers, issued):
    packed = zlib.compress(b"0" * (MOST_UNPACKED + 2**20), 9)
    for _ in range(layers - 1):
        packed = zlib.compress(packed, 9)
    data = bomb(qualification.render(issued[0]), packed, " ".join(["/FlateDecode"] * layers))
    started = time.perf_counter()
    with pytest.raises(ReportUnreadable, match="unpack to more than 64 MB"):
        unsealed(data, "x.pdf")
    assert time.perf_counter() - started < 5


def test_two_attached_files_of_one_name_are_refused(issued, lab):
    data = forging.sealed(qualification.render(issued[0]), {"a.json": b"{}", "b.json": b"1"}, made(lab))
    with pytest.raises(ReportUnreadable, match="two attached files are called"):
        unsealed(data.replace(b"[ (a\\056json)", b"[ (b\\056json)"), "x.pdf")


def shadowing(monkeypatch, change):
    """A forger's sealing, which changes the document after the files were attached and before it is signed."""
    signed = seal._signed

    def changed(writer, *details):
        change(writer, writer.root["/Names"]["/EmbeddedFiles"])
        return signed(writer, *details)

    monkeypatch.setattr(seal, "_signed", changed)


def held_in(writer):
    """Another file of an attached one's name: its content, and its description."""
    from pyhanko.pdf_utils import embed

    held = embed.EmbeddedFileObject.from_file_data(writer, b"shadow: everything passes", mime_type="text/csv")
    spec = embed.FileSpec("results.csv", "results.csv", held).as_pdf_object()
    return held.ef_stream_ref, spec


def spec_of(writer, tree, name="results.csv"):
    row = [item.get_object() for item in tree["/Names"]]
    spec = dict(zip(map(str, row[::2]), row[1::2], strict=True))[name]
    writer.update_container(spec)
    return spec


def as_kids(writer, tree):
    from pyhanko.pdf_utils.generic import ArrayObject, DictionaryObject, pdf_name, pdf_string

    names = ArrayObject([pdf_string("results.csv"), writer.add_object(held_in(writer)[1])])
    kid = writer.add_object(DictionaryObject({pdf_name("/Names"): names}))
    tree["/Kids"] = ArrayObject([kid])
    writer.update_container(tree)


def as_second_content(writer, tree):
    spec_of(writer, tree)["/EF"]["/UF"] = held_in(writer)[0]


def as_content_of_one_system(writer, tree):
    from pyhanko.pdf_utils.generic import pdf_name

    spec_of(writer, tree)["/EF"][pdf_name("/Unix")] = held_in(writer)[0]


def as_another_name(writer, tree):
    from pyhanko.pdf_utils.generic import pdf_string

    spec_of(writer, tree)["/UF"] = pdf_string("readings.csv")


def as_related_file(writer, tree):
    from pyhanko.pdf_utils.generic import ArrayObject, DictionaryObject, pdf_name, pdf_string

    related = ArrayObject([pdf_string("results.csv"), held_in(writer)[0]])
    spec_of(writer, tree)[pdf_name("/RF")] = DictionaryObject({pdf_name("/F"): related})


def as_outside_content(writer, tree):
    from pyhanko.pdf_utils.generic import pdf_name, pdf_string

    held = spec_of(writer, tree)["/EF"]["/F"]
    held[pdf_name("/F")] = pdf_string("elsewhere.csv")
    writer.update_container(held)


def as_associated_file(writer, tree):
    writer.root["/AF"].append(writer.add_object(held_in(writer)[1]))
    writer.update_container(writer.root["/AF"])


def as_a_file_that_no_list_names(writer, tree):
    writer.add_object(held_in(writer)[1])


def as_one_inside_another_object(writer, tree):
    from pyhanko.pdf_utils.generic import ArrayObject, DictionaryObject, pdf_name

    note = DictionaryObject({pdf_name("/Subtype"): pdf_name("/FileAttachment"), pdf_name("/FS"): held_in(writer)[1]})
    writer.add_object(ArrayObject([note]))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (as_kids, "further lists"),
        (as_second_content, "results.csv: it has two contents"),
        (as_content_of_one_system, "results.csv: it has two contents"),
        (as_another_name, "results.csv: it is listed by one name and described by another"),
        (as_related_file, "results.csv: it is described with further entries (/RF)"),
        (as_outside_content, "results.csv: its content stands outside the document"),
        (as_associated_file, "associated with the document are others"),
        (as_a_file_that_no_list_names, "files in other places"),
        (as_one_inside_another_object, "files in other places"),
    ],
)
def test_an_attached_file_that_only_some_readers_show_is_found(change, said, issued, tmp_path, monkeypatch):
    shadowing(monkeypatch, change)
    with forging.another_key(tmp_path) as other:
        data = forging.sealed(qualification.render(issued[0]), package.files(issued[0]), other)
    found = {what: why for what, holds, why in unsealed(data, "x").proven if not holds}
    assert list(found) == ["Every reader finds the same attached files"]
    assert said in found["Every reader finds the same attached files"]


def test_other_readers_do_show_what_these_shadows_hold(issued, tmp_path, monkeypatch):
    """independent: pypdf lists the shadow beside the file, or in its place."""
    for change in (as_kids, as_second_content):
        with monkeypatch.context() as patched, forging.another_key(tmp_path) as other:
            shadowing(patched, change)
            data = forging.sealed(qualification.render(issued[0]), package.files(issued[0]), other)
        assert b"shadow: everything passes" in pypdf.PdfReader(io.BytesIO(data)).attachments["results.csv"]


# The certificate --------------------------------------------------------------------------------------------------


def made(folder, name="Invented Surface Lab", now=NOW):
    return certificate.of_laboratory(name, now)


def test_the_certificate_is_made_once_and_only_its_owner_may_read_the_key(lab):
    first, second = made(lab), made(lab, name="Renamed Lab")
    assert first.facts() == second.facts()
    assert first.facts()["subject"] == "CN=Invented Surface Lab"
    (key,) = [path for path in (lab / "certificate").iterdir() if b"PRIVATE KEY" in path.read_bytes()]
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert [certificate.fingerprint(row) for row in certificate.known()] == [first.facts()["fingerprint"]]


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give files away")
def test_what_root_makes_belongs_to_the_owner_of_the_data_folder(lab):
    os.chown(lab, 1234, 1234)
    made(lab)
    owners = {path.stat().st_uid for path in (lab / "certificate", *(lab / "certificate").iterdir())}
    assert owners == {1234}


def test_processes_that_start_at_once_end_with_one_key(lab):
    code = (
        "import django; django.setup(); from datetime import datetime, UTC;"
        "from labrecords.reports import certificate as c;"
        "print(c.of_laboratory('Lab', datetime.now(UTC)).facts()['fingerprint'])"
    )
    environment = os.environ | {"LABRECORDS_DATA": str(lab), "DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    command = [sys.executable, "-c", code]
    running = [subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    said = {process.communicate(timeout=60)[0].strip() for process in running}
    assert len(said) == 1
    assert said == {certificate.fingerprint(row) for row in certificate.known()}


def test_a_certificate_that_is_not_valid_today_seals_nothing(lab):
    made(lab)
    with pytest.raises(CertificateRefused, match="it is valid from 2026-11-24 to"):
        made(lab, now=NOW + timedelta(days=366 * certificate.YEARS))
    with pytest.raises(CertificateRefused, match="not on 2020"):
        made(lab, now=NOW.replace(year=2020))


def test_a_damaged_key_file_is_refused_and_not_replaced(lab):
    made(lab)
    path = lab / "certificate" / certificate.KEY_FILE
    path.write_bytes(path.read_bytes()[:100])
    with pytest.raises(CertificateRefused, match="cannot be used"):
        made(lab)
    assert len(path.read_bytes()) == 100


def pkcs12_file(folder, key, password=b"open sesame"):
    """A PKCS#12 file as a certification authority would hand it out, made with the library alone."""
    own = certificate._self_made("Authority Lab", NOW)
    issued = (
        x509.CertificateBuilder()
        .subject_name(own.certificate.subject)
        .issuer_name(x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Invented Authority")]))
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=900))
        .sign(ec.generate_private_key(ec.SECP256R1()), hashes.SHA256())
    )
    hidden = serialization.BestAvailableEncryption(password)
    path, secret = folder / "lab.p12", folder / "password"
    path.write_bytes(pkcs12.serialize_key_and_certificates(b"lab", key, issued, None, hidden))
    secret.write_bytes(password + b"\n")
    return {"CERTIFICATE_FILE": path, "CERTIFICATE_PASSWORD_FILE": secret}


@pytest.mark.parametrize(
    "make_key",
    [lambda: ec.generate_private_key(ec.SECP256R1()), lambda: rsa.generate_private_key(65537, 3072)],
    ids=["P-256", "RSA 3072"],
)
def test_a_certificate_of_the_labs_own_choice_seals(make_key, lab, issued):
    with override_settings(**pkcs12_file(lab, make_key())):
        by = made(lab)
        assert by.facts()["self_made"] is False
        data = forging.sealed(qualification.render(issued[0]), package.files(issued[0]), by, at=NOW)
        assert [certificate.fingerprint(row) for row in certificate.known()] == [by.facts()["fingerprint"]]
    assert faults(data) == []
    draw = random.Random(SEED)
    start, end = forging.place_of_signature(data)
    for place in draw.sample(range(start, end), 60):
        changed = bytearray(data)
        changed[place] ^= 1 << draw.randrange(8)
        assert faults(bytes(changed)), place


def test_a_weak_key_or_a_wrong_password_is_refused(lab):
    with (
        override_settings(**pkcs12_file(lab, rsa.generate_private_key(65537, 2048))),
        pytest.raises(CertificateRefused, match="neither ECDSA P-256 nor RSA of 3072"),
    ):
        made(lab)
    with override_settings(**pkcs12_file(lab, ec.generate_private_key(ec.SECP256R1()))):
        (lab / "password").write_text("wrong")
        with pytest.raises(CertificateRefused, match="cannot be opened"):
            made(lab)


def test_a_setting_that_names_no_readable_file_stops_the_start(monkeypatch, tmp_path):
    monkeypatch.setenv("LABRECORDS_CERTIFICATE", str(tmp_path / "none.p12"))
    with pytest.raises(SettingRefused, match=r"LABRECORDS_CERTIFICATE: .* is no file that can be read"):
        settings._file("LABRECORDS_CERTIFICATE")
    (tmp_path / "none.p12").write_bytes(b"")
    assert settings._file("LABRECORDS_CERTIFICATE") == tmp_path / "none.p12"
    monkeypatch.delenv("LABRECORDS_CERTIFICATE")
    assert settings._file("LABRECORDS_CERTIFICATE") is None


def test_sealing_works_where_an_event_loop_runs_already(lab, issued):
    import asyncio

    async def inside():
        return seal.sealed(qualification.render(issued[0]), {}, {}, by=made(lab), at=NOW, reason="x")

    assert b"/ByteRange" in asyncio.run(inside())


# Other readers ----------------------------------------------------------------------------------------------------


def test_a_second_reader_lists_and_opens_the_attachments(file, issued):
    """independent: pypdf."""
    reader = pypdf.PdfReader(io.BytesIO(file))
    assert {name: held[0] for name, held in reader.attachments.items()} == package.files(issued[0])
    associated = reader.trailer["/Root"]["/AF"]
    assert {spec.get_object()["/AFRelationship"] for spec in associated} == {"/Data"}
    assert len(associated) == len(package.ABOUT)


def poppler(program):
    missing = shutil.which(program) is None and os.environ.get("LABRECORDS_MUST_RUN") != "1"
    return lambda test: pytest.mark.poppler(pytest.mark.skipif(missing, reason=f"{program} is not installed")(test))


@poppler("pdfdetach")
def test_poppler_lists_and_saves_the_attachments(file, issued, tmp_path):
    """independent: poppler's pdfdetach."""
    path = tmp_path / "report.pdf"
    path.write_bytes(file)
    listed = subprocess.run(["pdfdetach", "-list", path], capture_output=True, text=True, check=True).stdout
    assert "8 embedded files" in listed
    for name in package.ABOUT:
        assert name in listed
    subprocess.run(["pdfdetach", "-saveall", "-o", tmp_path, path], check=True)
    for name, data in package.files(issued[0]).items():
        assert (tmp_path / name).read_bytes() == data


@poppler("pdfsig")
def test_poppler_finds_the_signature_valid_over_the_whole_file(file, tmp_path):
    """independent: poppler's pdfsig, with its own library for the cryptography."""
    path = tmp_path / "report.pdf"
    path.write_bytes(file)
    said = subprocess.run(["pdfsig", path], capture_output=True, text=True, check=False).stdout
    for words in (
        "Signature is Valid",
        "Total document signed",
        "ETSI.CAdES.detached",
        "SHA-256",
        "Invented Surface Lab",
    ):
        assert words in said, said
    middle = len(file) // 2
    path.write_bytes(file[:middle] + bytes([file[middle] ^ 1]) + file[middle + 1 :])
    said = subprocess.run(["pdfsig", path], capture_output=True, text=True, check=False).stdout
    assert "Signature is Valid" not in said
