"""Records as JUnit XML, which services that build and test read: every rule of a machine is a case that can fail.

The layout is common practice (there is no standard of it): test suites hold test suites hold test cases, with counts
as attributes. A rule that is broken is a failure; what could not be decided or looked at
is an error, never a pass. Signs that no XML may hold are spelled out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as Xml

from assembly.printable import visible
from assembly.record import PairEntry, Record, VerdictWord
from assembly.report.text.headline import binding, failure, too_far
from assembly.report.text.measures_text import beyond
from assembly.report.text.threads_text import short_thread
from assembly.report.text.words import below, chain, figure, gap, part, place, short, unit_sign

COUNTED = {"failures": "failure", "errors": "error", "skipped": "skipped"}


@dataclass(frozen=True, slots=True)
class CheckedFile:
    """One mechanism file: its record, or what went wrong instead, or both; ``seconds`` that it took."""

    file: str
    record: Record | None
    faults: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class _Case:
    """One rule: ``tag`` is empty if it is kept."""

    name: str
    tag: str = ""
    kind: str = ""
    message: str = ""


def junit_text(files: Sequence[CheckedFile]) -> str:
    """One suite for each file, in their order."""
    suites = [_suite(checked) for checked in files]
    root = Xml.Element("testsuites", name="swingroom")
    for count in ("tests", *COUNTED):
        root.set(count, str(sum(int(suite.get(count, "0")) for suite in suites)))
    root.set("time", f"{sum(checked.seconds for checked in files):z.3f}")
    root.extend(suites)
    Xml.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{Xml.tostring(root, encoding="unicode")}\n'


def _suite(checked: CheckedFile) -> Xml.Element:
    cases = [_Case("can be checked", "error", "input", fault) for fault in checked.faults]
    suite = Xml.Element("testsuite", name=visible(checked.file))
    if checked.record is not None:
        cases += _cases(checked.record)
        suite.set("timestamp", checked.record.made)
        suite.append(_counts(checked.record))
    suite.set("tests", str(len(cases)))
    for count, tag in COUNTED.items():
        suite.set(count, str(sum(case.tag == tag for case in cases)))
    suite.set("time", f"{checked.seconds:z.3f}")
    for case in cases:
        made = Xml.SubElement(suite, "testcase", classname=visible(checked.file), name=visible(case.name), time="0")
        if case.tag:
            told = Xml.SubElement(made, case.tag, message=visible(case.message))
            if case.kind:
                told.set("type", case.kind)
                told.text = visible(case.message)
    return suite


def _counts(record: Record) -> Xml.Element:
    """How many pairs have which verdict: errors count other things too."""
    counts = Xml.Element("properties")
    for verdict in ("fails", "undecided", "clear"):
        number = sum(pair.verdict == verdict for pair in record.pairs)
        Xml.SubElement(counts, "property", name=f"pairs: {verdict}", value=f"{number} of {len(record.pairs)}")
    return counts


def _cases(record: Record) -> Iterator[_Case]:
    for pair in record.pairs:
        yield _judged(f"{pair.a} – {pair.b}", pair.verdict, _pair(pair, record))
    yield _reach(record)
    for joint in record.joints:
        if joint.verdict is not None:
            open_end = f"{joint.name} is not proven to keep its limit of {short(joint.limit or 0.0)}"
            sign = unit_sign(joint.unit)
            told = too_far(joint, record) if joint.verdict == "fails" else f"{open_end}{sign}"
            yield _judged(f"joint {joint.name}: {joint.motion}", joint.verdict, told)
    for one in record.measures:
        for side in one.sides:
            told = beyond(one, record.drives) if side.verdict == "fails" else f"{one.name}: {one.why}"
            yield _judged(f"measure {one.name}: {side.motion}", side.verdict, told)
    for rod in record.rods:
        told = binding(rod, record) if rod.verdict == "fails" else f"{chain(rod.parts)} is not proven never to bind"
        yield _judged(f"rod {chain(rod.parts)}: rolls freely", rod.verdict, told)
    for threads in record.threads:
        if threads.verdict is not None:
            told = short_thread(threads) if threads.failing else ""
            yield _judged(f"rod {threads.name}: threads", threads.verdict, told)
    for left in record.not_checked:
        yield _Case(f"{left.a} – {left.b}", "skipped", "", left.reason)


def _judged(name: str, verdict: VerdictWord, told: str) -> _Case:
    if verdict == "clear":
        return _Case(name)
    tag = "failure" if verdict == "fails" else "error"
    return _Case(name, tag, verdict, told)


def _pair(pair: PairEntry, record: Record) -> str:
    if pair.verdict == "fails":
        return failure(pair, record)
    seen = "not looked at" if pair.least_mm is None else f"{gap(pair.least_mm)} mm seen"
    proven = "nothing proven" if pair.proven_mm is None else f"{figure(below(pair.proven_mm))} mm proven"
    names = f"{part(pair.a, pair.shape_a)} and {part(pair.b, pair.shape_b)}"
    return f"{names}: {seen}, {proven}, {short(pair.required_mm)} mm required: {pair.why}"


def _reach(record: Record) -> _Case:
    """Whether the machine goes together over the whole range."""
    name = "goes together over the whole range"
    places = sorted(record.unreachable, key=lambda lost: not lost.missed)
    if not places:
        return _Case(name)
    lost = places[0]
    told = f"at {place(lost, record.drives)} {lost.message} ({chain(lost.loop)})"
    return _judged(name, "fails" if lost.missed else "undecided", told)
