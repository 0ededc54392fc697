"""What `phaseyard site check` says: for people as text, for programs as JSON."""

from collections.abc import Iterator
from dataclasses import dataclass

from csms.power.fallback import Carried
from csms.sitefile.check import prove
from csms.sitefile.description import Description
from csms.sitefile.findings import Finding, Severity, faulty
from csms.sitefile.parsing import Parsed, parse

CAUTIONS = (
    "Phaseyard is not a protective device: fuses, breakers and residual-current protection protect "
    "(IEC 60364-7-722).",
    "A licensed electrician sets limits, wiring and fallback currents and proves them on site; local codes "
    "and the grid company's terms go first.",
    "This check is arithmetic on what the file says. It has not seen the installation.",
)


@dataclass(frozen=True, slots=True)
class Report:
    """Of one file. `left_out`: entries with faults, without which the sums were made."""

    readable: bool
    findings: tuple[Finding, ...]
    carried: tuple[Carried, ...]
    description: Description | None
    left_out: int

    @property
    def safe(self) -> bool:
        return self.readable and all(f.severity is not Severity.FAULT for f in self.findings)

    def count(self, severity: Severity) -> int:
        return sum(finding.severity is severity for finding in self.findings)


def check_text(text: str) -> Report:
    """Read, prove, and say everything that there is to say; faults first, each kind in order of place."""
    parsed: Parsed = parse(text)
    proof = None if parsed.description is None else prove(parsed.description)
    found = [faulty(fault) for fault in parsed.faults] + list(proof.findings if proof else ())
    order = list(Severity)
    findings = tuple(sorted(found, key=lambda f: (order.index(f.severity), f.place, f.path)))
    carried = proof.carried if proof else ()
    return Report(parsed.readable, findings, carried, parsed.description, parsed.left_out)


def as_text(report: Report, file: str) -> str:
    """For people."""
    return "\n".join(_lines(report, file))


def as_data(report: Report, file: str) -> dict[str, object]:
    """For programs."""
    return {
        "file": file,
        "safe": report.safe,
        "findings": [
            {
                "severity": finding.severity.value,
                "line": finding.place.line,
                "column": finding.place.column,
                "path": finding.path,
                "text": finding.text,
            }
            for finding in report.findings
        ],
        "silence": [
            {
                "circuit": row.circuit,
                "line": row.line.value if row.line else None,
                "unit": "A" if row.line else "W",
                "building": round(row.base, 3),
                "stations": round(row.stations, 3),
                "together": row.together,
                "limit": row.limit,
                "fits": row.fits,
            }
            for row in report.carried
        ],
        "left_out": report.left_out,
        "cautions": list(CAUTIONS),
    }


def _lines(report: Report, file: str) -> Iterator[str]:
    for finding in report.findings:
        about = f"{finding.path}: " if finding.path else ""
        yield f"{file}:{finding.place}: {finding.severity}: {about}{finding.text}"
    if not report.readable:
        return
    if report.findings:
        yield ""
    if report.carried:
        yield from _table(report)
        yield ""
    yield _verdict(report)
    yield ""
    yield from CAUTIONS


def _table(report: Report) -> Iterator[str]:
    yield "When no station hears us and the building draws its worst:"
    width = max(len("circuit"), *(len(row.circuit) for row in report.carried))
    yield f"  {'circuit':<{width}}  line  building  stations  together     limit      left"
    for row in report.carried:
        unit = "A" if row.line else "W"
        digits = 1 if row.line else 0
        values = (row.base, row.stations, row.together, row.limit, row.limit - row.together)
        cells = "  ".join(f"{value:8.{digits}f}" for value in values)
        verdict = "" if row.fits else "  TOO MUCH"
        yield f"  {row.circuit:<{width}}  {row.line or 'cap':<4}  {cells} {unit}{verdict}"


def _verdict(report: Report) -> str:
    number = report.count(Severity.FAULT)
    said = f"{number} fault{'' if number == 1 else 's'}, {report.count(Severity.HINT)} to look at"
    if report.safe:
        return f"Safe in silence: {said}."
    without = f" The sums leave out {report.left_out} entries with faults." if report.left_out else ""
    proved = "" if report.carried else " Nothing could be added up."
    return f"NOT SAFE: {said}. A site like this is not made active.{without}{proved}"
