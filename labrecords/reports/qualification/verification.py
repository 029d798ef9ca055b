"""An issued report checked from its file alone: seal, files, signatures, numbers, pages. No database, no network."""

from __future__ import annotations

import hashlib
import math
from dataclasses import asdict, dataclass, field
from io import BytesIO

from labrecords.reports import certificate, qualification
from labrecords.reports.qualification import cover, lines, package, replay, signatures
from labrecords.reports.qualification.columns import PackageProblem
from labrecords.reports.unsealing import unsealed

SEAL, FILES, SIGNATURES, NUMBERS, PAGES = "seal", "attached files", "signatures", "numbers", "pages"
SAME_PAGES = "The pages are those that the evidence gives"
CLOSE = 1e-9  # relative: other processors may differ in the last digits, no printed digit does
# Computed parts that are no lines of their own, but are printed as well.
FURTHER = {
    "counts": "numbers of runs and readings",
    "courses": "figures over the dose",
    "groups": "figures, notes and tables of the groups",
    "checks": "sentences of the checks",
    "judgement": "sentences and coupon values behind the outcomes",
    "explanations": "how each result was obtained",
    "runs": "every reading in the annex",
}


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at, and whether it is as it should be."""

    area: str
    what: str
    agrees: bool
    printed: str = ""
    recomputed: str = ""
    why: str = ""
    kind: str = ""  # of a number: outcome, statistic, coupon, check, pair
    group: str = ""  # what the number belongs to


@dataclass(frozen=True)
class Verification:
    file: str
    report: str  # number
    lab: str
    certificate: dict | None
    signed_at: str
    sealer_known: bool | None  # None: no certificate is known here
    pages_compared: bool  # whole, not only their numbers
    findings: list[Finding]
    notes: list[str] = field(default_factory=list)

    @property
    def agrees(self) -> bool:
        return all(item.agrees for item in self.findings)

    @property
    def vouches_for_pages(self) -> bool:
        """Whether everything on the pages is shown to be as issued: they were drawn again, or the lab sealed them."""
        return self.pages_compared or bool(self.sealer_known)

    def as_data(self) -> dict:
        return asdict(self) | {"agrees": self.agrees, "vouches_for_pages": self.vouches_for_pages}


def verify(data: bytes, name: str, *, fingerprints: set[str] | None = None) -> Verification:
    """Check a report. `fingerprints`: of the certificates that may have sealed it; None where none is known."""
    opened = unsealed(data, name)
    facts = certificate.facts_of(opened.certificate) if opened.certificate else None
    found = [Finding(SEAL, what, holds, why=why) for what, holds, why in opened.proven]
    found += _sealed_by(opened, facts, fingerprints)
    notes = _notes(facts, fingerprints)
    if opened.is_turned:
        notes.append(
            "Of the two forms of its signature the file has the one that this program does not make now: an earlier "
            "version made it, or somebody without the key turned it. Nothing else is changed by that, but the file's "
            "own SHA-256."
        )
    evidence = {}
    try:
        found += _files(opened.attached)
        evidence = package.evidence_of(opened.attached)
        found += _together(opened.attached, evidence)
        found += _named_in_report(evidence, facts)
        found += _signatures(evidence)
        found += _numbers(evidence, notes)
        found += _pages(opened, evidence, notes)
    except PackageProblem as problem:
        found.append(Finding(FILES, "The attached files can be read", False, why=str(problem)))
    return Verification(
        file=name,
        report=str(_part(evidence, "report", "number")),
        lab=str(_part(evidence, "laboratory", "name")),
        certificate=facts,
        signed_at=opened.signed_at.isoformat() if opened.signed_at else "",
        sealer_known=facts is not None and facts["fingerprint"] in fingerprints if fingerprints else None,
        pages_compared=any(item.what == SAME_PAGES for item in found),
        findings=found,
        notes=notes,
    )


def _part(evidence, *path):
    for key in path:
        evidence = evidence.get(key, "") if isinstance(evidence, dict) else ""
    return evidence


def _sealed_by(opened, facts, fingerprints):
    if facts is None:
        return
    signed = opened.signed_at
    is_valid = bool(signed) and (
        opened.certificate.not_valid_before_utc <= signed <= opened.certificate.not_valid_after_utc
    )
    why = (
        ""
        if is_valid
        else f"valid {facts['valid_from']} to {facts['valid_until']}, signed {signed or 'without a date'}"
    )
    yield Finding(SEAL, "The certificate was valid at the stated time of signing", is_valid, why=why)
    if fingerprints is not None:
        is_known = facts["fingerprint"] in fingerprints
        why = (
            "" if is_known else f"sealed by {facts['fingerprint']}, which is none of {', '.join(sorted(fingerprints))}"
        )
        yield Finding(SEAL, "The certificate is a known one", is_known, why=why)


def _notes(facts, fingerprints):
    if facts is None:
        return []
    notes = [
        "The time of signing is the lab's own statement; no time stamp of a third party is held.",
        "Whether the certificate was revoked is not asked: nothing is fetched from a network.",
    ]
    if facts["self_made"]:
        notes.append(
            "The certificate is self-made: it proves that nothing changed since the holder of its key sealed the file. "
            "Who that is, only comparing the fingerprint with what the lab told you can show."
        )
    if fingerprints is None:
        notes.append(
            "No certificate is known here, so who sealed the file is NOT shown: ask the lab for its fingerprint and "
            "run this again with --fingerprint."
        )
    return notes


def _files(attached):
    """Each attached file against length and SHA-256 in the package's description."""
    if package.DESCRIPTOR not in attached:
        raise PackageProblem(f"not attached: {package.DESCRIPTOR}")
    told = package.loaded(attached, package.DESCRIPTOR)
    try:
        rows = {str(row["path"]): (row["bytes"], row["hash"]) for row in told["resources"]}
    except (KeyError, TypeError):
        raise PackageProblem(f"{package.DESCRIPTOR} describes no files") from None
    for name in sorted((set(rows) | set(attached)) - {package.DESCRIPTOR}):
        data = attached.get(name)
        why = "it is described but not attached" if data is None else ""
        if data is not None and name not in rows:
            why = "it is attached but not described"
        elif data is not None and rows[name] != (len(data), f"sha256:{hashlib.sha256(data).hexdigest()}"):
            why = "it is not the file that was described"
        yield Finding(FILES, name, not why, why=why)


def _together(attached, evidence):
    """Whether the files say the same as each other: made again from what they hold, each must come out as it is."""
    what, told = "The files agree with each other", package.loaded(attached, package.DESCRIPTOR)
    if told.get("version") != str(package.FORMAT):  # a stranger may write any, and nothing may go unlooked at for it
        why = f"they are of form {told.get('version')!r}, known here is {package.FORMAT}: they cannot be compared"
        yield Finding(FILES, what, False, why=why[:300])
        return
    try:
        again = package.files(evidence, told.get("made_with"))
    except Exception as problem:  # whatever odd content makes of it
        raise PackageProblem(f"the files do not fit each other ({type(problem).__name__}: {problem})") from None
    differing = sorted(name for name in again if again[name] != attached[name])
    why = f"these say something else than the others: {', '.join(differing)}" if differing else ""
    yield Finding(FILES, what, not differing, why=why)


def _named_in_report(evidence, facts):
    printed = _part(evidence, "report", "certificate", "fingerprint")
    if facts is not None:
        same = printed == facts["fingerprint"]
        why = "" if same else "the report prints the fingerprint of another certificate"
        yield Finding(
            SEAL, "The report prints this certificate's fingerprint", same, str(printed), facts["fingerprint"], why
        )


def _signatures(evidence):
    try:
        return [Finding(SIGNATURES, what, holds, why=why) for what, holds, why in signatures.proven(evidence)]
    except Exception as problem:  # whatever odd content makes of it
        why = f"they cannot be checked ({type(problem).__name__}: {problem})"[:300]
        return [Finding(SIGNATURES, "The signatures that the report prints", False, why=why)]


def _numbers(evidence, notes):
    version, now = _part(evidence, "code_version"), package.analysis.CODE_VERSION
    if version != now:
        notes.append(f"Computed with analysis version {version}, here with {now}: a formula may have changed.")
    try:
        again = replay.again(evidence)
        pairs = zip(lines.of(evidence), lines.of(again), strict=True)
        return [*[_line(*pair) for pair in pairs], *_further(evidence, again)]
    except Exception as problem:  # whatever odd readings make of it
        why = f"the numbers cannot be computed from the attached readings ({type(problem).__name__}: {problem})"
        return [Finding(NUMBERS, "Every result", False, why=why[:300])]


def _line(printed, again):
    what = " · ".join(part for part in (printed.get("coupon"), printed["what"]) if part)
    agrees, (was, now) = _same(printed, again), map(_shown, (printed, again))
    if not agrees and was == now:  # in a digit that is not printed
        was, now = f"{printed.get('value')!r}", f"{again.get('value')!r}"
    return Finding(NUMBERS, what, agrees, was, now, kind=printed["kind"], group=printed["group"])


def _shown(line):
    said = (line.get("printed", ""), line.get("outcome", ""))
    return " ".join(dict.fromkeys(part for part in said if part))


def _further(evidence, again):
    for key, what in FURTHER.items():
        yield Finding(NUMBERS, what, _same(evidence[key], again[key]), group="All else that is computed")


def _same(one, other) -> bool:
    """Equal in everything, numbers but for the last digits."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=CLOSE, abs_tol=1e-12)
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return one == other


def _pages(opened, evidence, notes):
    """The pages drawn again from the evidence; where another version drew them, their numbers as text."""
    try:
        drawn = qualification.render(evidence)
    except Exception as problem:  # whatever odd evidence makes of it
        return [
            Finding(PAGES, SAME_PAGES, False, why=f"it cannot be drawn ({type(problem).__name__}: {problem})"[:300])
        ]
    if opened.data.startswith(drawn) and opened.rendered_xref == _xref_of(drawn):
        return [Finding(PAGES, SAME_PAGES, True, why="byte for byte")]
    made_with = package.loaded(opened.attached, package.DESCRIPTOR).get("made_with")
    if made_with == package.this_program():
        return [Finding(PAGES, SAME_PAGES, False, why="drawn again, they come out otherwise")]
    notes.append(
        "The pages were drawn by another version of this program and are NOT COMPARED: only that they hold the verdict "
        "and every printed result as text was looked at. Other words, and pictures over them, would not be noticed."
    )
    return [_words(opened.data, evidence)]


def _xref_of(drawn):
    return int(drawn[drawn.rindex(b"startxref") + len(b"startxref") :].split()[0])


def _words(data, evidence):
    what = "The pages hold every printed result"
    try:
        missing = list(_missing(data, evidence))
    except Exception as problem:  # a stranger's file, and a stranger's evidence
        return Finding(PAGES, what, False, why=f"their text cannot be compared ({problem})"[:300])
    return Finding(PAGES, what, not missing, why="; ".join(missing)[:300])


def _missing(data, evidence):
    import pypdf

    text = _squeezed("".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(data)).pages))
    # The verdict and the outcomes have to stand in their table, not only somewhere in the annex.
    table = text.partition(_squeezed("What each outcome rests on"))[0]
    said = [verdict for verdict in cover.STATEMENTS if f"{verdict.upper()}:" in table]
    if said != [evidence["judgement"]["verdict"]]:
        yield f"the verdict; they say {' and '.join(said) or 'none'}"
    for row in lines.of(evidence):
        where = table if row["kind"] == lines.OUTCOME else text
        if row["kind"] != lines.CHECK and not _is_in(row.get("printed", ""), where):
            yield f"{row['what']}: {row['printed']}"


def _is_in(printed, text):
    value, _, rest = printed.partition(" [")
    return all(_squeezed(part) in text for part in (value, rest and f"[{rest}") if part)


def _squeezed(text):
    return "".join(text.split())
