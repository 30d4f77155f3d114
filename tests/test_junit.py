"""JUnit XML of records, against a schema of the layout that is common practice (own words; there is no standard)."""

import pytest
from lxml import etree
from made_records import joint, lost, not_checked, overlap, pair, record, rod

from assembly.report.export.junit import CheckedFile, junit_text

SCHEMA = etree.XMLSchema(
    etree.XML(b"""
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema">
  <xs:attributeGroup name="counts">
    <xs:attribute name="name" type="xs:string" use="required"/>
    <xs:attribute name="tests" type="xs:nonNegativeInteger" use="required"/>
    <xs:attribute name="failures" type="xs:nonNegativeInteger" use="required"/>
    <xs:attribute name="errors" type="xs:nonNegativeInteger" use="required"/>
    <xs:attribute name="skipped" type="xs:nonNegativeInteger"/>
    <xs:attribute name="time" type="xs:decimal"/>
  </xs:attributeGroup>
  <xs:complexType name="told"><xs:simpleContent><xs:extension base="xs:string">
    <xs:attribute name="message" type="xs:string"/>
    <xs:attribute name="type" type="xs:string"/>
  </xs:extension></xs:simpleContent></xs:complexType>
  <xs:element name="testsuites"><xs:complexType>
    <xs:sequence>
      <xs:element name="testsuite" minOccurs="0" maxOccurs="unbounded"><xs:complexType>
        <xs:sequence>
          <xs:element name="properties" minOccurs="0"><xs:complexType><xs:sequence>
            <xs:element name="property" minOccurs="0" maxOccurs="unbounded"><xs:complexType>
              <xs:attribute name="name" type="xs:string" use="required"/>
              <xs:attribute name="value" type="xs:string" use="required"/>
            </xs:complexType></xs:element>
          </xs:sequence></xs:complexType></xs:element>
          <xs:element name="testcase" minOccurs="0" maxOccurs="unbounded"><xs:complexType>
            <xs:choice minOccurs="0">
              <xs:element name="failure" type="told"/>
              <xs:element name="error" type="told"/>
              <xs:element name="skipped" type="told"/>
            </xs:choice>
            <xs:attribute name="name" type="xs:string" use="required"/>
            <xs:attribute name="classname" type="xs:string" use="required"/>
            <xs:attribute name="time" type="xs:decimal"/>
          </xs:complexType></xs:element>
        </xs:sequence>
        <xs:attributeGroup ref="counts"/>
        <xs:attribute name="timestamp" type="xs:dateTime"/>
      </xs:complexType></xs:element>
    </xs:sequence>
    <xs:attributeGroup ref="counts"/>
  </xs:complexType></xs:element>
</xs:schema>""")
)


def tree(*files):
    """The text read back, valid, with counts that hold for what is in it."""
    root = etree.fromstring(junit_text(files).encode("utf-8"))
    SCHEMA.assertValid(root)
    for holder in (root, *root.iterchildren("testsuite")):
        assert int(holder.get("tests")) == len(list(holder.iter("testcase")))
        for count, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
            assert int(holder.get(count)) == len(list(holder.iter(tag)))
    return root


def cases(made):
    """Case name: what it says (tag, message), None where it passed."""
    root = tree(CheckedFile("trike.toml", made, (), 1.25))
    return {
        case.get("name"): (case[0].tag, case[0].get("message")) if len(case) else None for case in root.iter("testcase")
    }


def test_how_many_pairs_are_undecided_is_said_beside_what_fails():
    made = record(
        [pair("frame", "wheel", verdict="fails"), *(pair("frame", name, verdict="undecided") for name in "abc")]
    )
    told = {
        one.get("name"): one.get("value") for one in tree(CheckedFile("trike.toml", made, (), 1.0)).iter("property")
    }
    assert told == {"pairs: fails": "1 of 4", "pairs: undecided": "3 of 4", "pairs: clear": "0 of 4"}


def test_each_pair_over_its_rule_is_a_failed_case_of_its_own():
    found = cases(
        record([
            pair("frame", "left wheel", verdict="fails", overlap=overlap(2.0)),
            pair("frame", "right wheel", least=2.5, verdict="fails"),
            pair("frame", "seat"),
        ])
    )  # fmt: skip
    assert found["frame – seat"] is None
    assert found["frame – left wheel"][0] == "failure"
    assert "strikes left wheel" in found["frame – left wheel"][1]
    assert "comes within 2.50 mm of right wheel" in found["frame – right wheel"][1]
    assert "3 mm is required" in found["frame – right wheel"][1]


def test_what_is_not_decided_never_passes():
    found = cases(
        record([pair(verdict="undecided", proven_mm=2.999, why="time was up")], joints=(joint(verdict="undecided"),))
    )
    tag, told = found["frame – wheel"]
    assert (tag, told) == ("error", "frame and wheel: 5.00 mm seen, 2.99 mm proven, 3 mm required: time was up")
    assert found["joint lower_ball: lean"] == ("error", "lower_ball is not proven to keep its limit of 22°")


def test_a_pair_never_looked_at_is_an_error():
    blind = pair(verdict="undecided", least=None, why="time was up")
    assert cases(record([blind]))["frame – wheel"][1].startswith("frame and wheel: not looked at, nothing proven")


def test_a_pair_that_is_not_checked_is_skipped_with_its_reason():
    assert cases(record(not_checked=(not_checked("bolted"),)))["seat – frame"] == ("skipped", "bolted")


@pytest.mark.parametrize(
    ("changed", "name", "tag"),
    [
        ({"joints": (joint(reserve=-1.0, verdict="fails"),)}, "joint lower_ball: lean", "failure"),
        ({"rods": (rod("fails"),)}, "rod tie_rod: rolls freely", "failure"),
        ({"rods": (rod("undecided"),)}, "rod tie_rod: rolls freely", "error"),
        ({"unreachable": (lost(1.0), lost(0.5))}, "goes together over the whole range", "failure"),
        ({"unreachable": (lost(1.0),)}, "goes together over the whole range", "error"),
    ],
)
def test_joints_rods_and_reach_are_cases_too(changed, name, tag):
    found = cases(record([pair()], **changed))
    assert found[name][0] == tag
    assert [name for name, told in found.items() if told] == [name]


def test_kept_limits_pass_and_joints_without_one_are_no_case():
    found = cases(record([pair()], joints=(joint(), joint("free", verdict=None)), rods=(rod(),)))
    assert set(found.values()) == {None}
    assert len(found) == 1 + 1 + 1 + 1  # pair, reach, joint, rod


def test_a_broken_file_is_an_error_beside_the_others():
    broken = CheckedFile("b.toml", None, ("b.toml:3: parts.frame: no shapes", "b.toml:9: no drive"), 0.0)
    root = tree(CheckedFile("a.toml", record([pair()]), (), 1.25), broken)
    good, bad = root
    assert (good.get("errors"), bad.get("errors"), root.get("errors")) == ("0", "2", "2")
    assert (bad[1][0].get("type"), bad[1][0].get("message")) == ("input", "b.toml:9: no drive")
    assert root.get("time") == "1.250"
    assert good.get("timestamp") == "2026-03-01T03:10:00+00:00"


def test_names_that_no_xml_may_hold_are_made_sayable():
    root = tree(CheckedFile("a\x00<b>.toml", record([pair('"&<', "tail\x0b\ud800")]), (), 0.0))
    assert root[0].get("name") == "a\\x00<b>.toml"
    assert root[0].find("testcase").get("name") == '"&< – tail\\x0b\\ud800'


def test_no_files_are_no_cases():
    assert tree().get("tests") == "0"
