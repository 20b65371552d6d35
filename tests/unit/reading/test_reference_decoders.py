"""The same bytes through our readers and through independent decoders; where one is missing, its tests are skipped."""

from __future__ import annotations

import random

import pytest

from analysis.vocabulary.codes import status_of
from analysis.vocabulary.vin import check_digit, model_year
from pipelines.reading.diagnostics.answers import Message
from pipelines.reading.diagnostics.iso14229 import read_list
from pipelines.reading.diagnostics.isotp import Assembly, read_frame
from pipelines.reading.diagnostics.j1939 import read_message
from pipelines.reading.diagnostics.j1979 import monitors_ready, read_codes, read_counters

UDS = [
    "5902ff11071127023212270107112701181227011312270122112706430027065300271631002714031227",
    "5902fb1234562012345760",
    "5902ff403115094031160850C12187af",
]
OBD = ["430601430196023402cd03570a24", "430303014031c121", "4300", "4302F0038003"]


def ours(sent: str) -> list[str]:
    return [f"{code.code}-{code.failure_type}" for code in read_list(bytes.fromhex(sent), 0).codes]


@pytest.mark.parametrize("sent", UDS[:2])
def test_udsoncan_reads_the_same_codes_and_statuses(sent):
    udsoncan = pytest.importorskip("udsoncan", reason="udsoncan is not installed")
    services = pytest.importorskip("udsoncan.services", reason="udsoncan is not installed")
    service = services.ReadDTCInformation
    response = udsoncan.Response.from_payload(bytes.fromhex(sent))
    service.interpret_response(response, subfunction=2, tolerate_zero_padding=True, ignore_all_zero_dtc=True)
    theirs = response.service_data.dtcs
    assert ours(sent) == [dtc.id_iso() for dtc in theirs]
    mask = response.service_data.status_availability.get_byte_as_int()
    statuses = [code.status for code in read_list(bytes.fromhex(sent), 0).codes]
    assert statuses == [f"{dtc.status.get_byte_as_int() & mask:02X}" for dtc in theirs]


def test_udsoncan_reads_every_status_bit_the_same():
    udsoncan = pytest.importorskip("udsoncan", reason="udsoncan is not installed")
    for byte in range(256):
        bits = udsoncan.Dtc.Status.from_byte(byte)
        failed = bits.test_failed or bits.test_failed_this_operation_cycle or bits.pending or bits.confirmed
        read = status_of(f"{byte:02X}")
        assert read.present == (failed or bits.test_failed_since_last_clear), byte
        if not read.present:
            untested = bits.test_not_completed_since_last_clear or bits.test_not_completed_this_operation_cycle
            assert read.tested == (not untested), byte


@pytest.mark.parametrize("sent", UDS[:2])
def test_scapy_reads_the_same_records(sent):
    uds = pytest.importorskip("scapy.contrib.automotive.uds", reason="scapy is not installed")
    packet = uds.UDS(bytes.fromhex(sent))
    records = packet.DTCAndStatusRecord
    spelled = []
    for record in records:
        letter, digits = "PCBU"[record.dtc.system], f"{record.dtc.type:X}{record.dtc.numeric_value_code:03X}"
        spelled.append(f"{letter}{digits}-{record.dtc.additional_information_code:02X}")
    assert ours(sent) == spelled


@pytest.mark.parametrize("sent", OBD)
def test_scapy_reads_the_same_emission_codes(sent):
    layer = pytest.importorskip("scapy.contrib.automotive.obd.obd", reason="scapy is not installed")
    theirs = layer.OBD(bytes.fromhex(sent)).dtcs
    letters = {"Powertrain": "P", "Chassis": "C", "Body": "B", "Network": "U"}
    spelled = [
        letters[dtc.sprintf("%location%")] + "".join(f"{getattr(dtc, f'code{place}'):X}" for place in (1, 2, 3, 4))
        for dtc in theirs
    ]
    assert [code.code for code in read_codes(bytes.fromhex(sent), counted=True).codes] == spelled


# The first two are python-OBD's own test values.
@pytest.mark.parametrize(
    "value",
    [
        "8307ff00",
        "00790303",
        "0007e5a4",
        "00000000",
        "80ffffff",
        "00110000",
        "00210000",
        "00440000",
        "00010404",
        "00070804",
    ],
)
def test_python_obd_reads_the_same_readiness(value):
    decoders = pytest.importorskip("obd.decoders", reason="python-OBD is not installed")
    protocol = pytest.importorskip("obd.protocols.protocol", reason="python-OBD is not installed")
    message = protocol.Message([])
    message.data = bytearray(bytes.fromhex("4101" + value))
    theirs = decoders.status([message])
    tests = [test for test in vars(theirs).values() if hasattr(test, "available") and test.available]
    expected = all(test.complete for test in tests) if tests else None
    assert monitors_ready(bytes.fromhex(value)) is expected


@pytest.mark.parametrize("body", ["010480034123", "000001040000", "030140310000"])
def test_python_obd_reads_the_same_codes_of_an_older_link(body):
    decoders = pytest.importorskip("obd.decoders", reason="python-OBD is not installed")
    theirs = [decoders.parse_dtc(tuple(bytes.fromhex(body)[at : at + 2])) for at in range(0, 6, 2)]
    found = read_codes(bytes.fromhex("43" + body), counted=False).codes
    assert [code.code for code in found] == [pair[0] for pair in theirs if pair]


def test_python_obd_scales_the_counters_the_same():
    decoders = pytest.importorskip("obd.decoders", reason="python-OBD is not installed")
    protocol = pytest.importorskip("obd.protocols.protocol", reason="python-OBD is not installed")
    message = protocol.Message([])
    message.data = bytearray(bytes.fromhex("41310123"))
    assert decoders.uas(0x25)([message]).magnitude == 291
    assert read_counters(bytes.fromhex("41310123")).facts == {"km_since_erase": "291"}


@pytest.mark.parametrize("sent", UDS[:2])
def test_py_uds_reads_the_same_records(sent):
    translator = pytest.importorskip("uds.translator", reason="py-uds is not installed")
    physical = pytest.importorskip("uds.addressing", reason="py-uds is not installed").AddressingType.PHYSICAL
    messages = pytest.importorskip("uds.message", reason="py-uds is not installed")
    message = messages.UdsMessage(payload=bytes.fromhex(sent), addressing_type=physical)
    fields = {field["name"]: field for field in translator.BASE_TRANSLATOR.decode(message)}
    records = [[part["physical_value"] for part in record] for record in fields["DTC and DTCStatus"]["children"]]
    statuses = [int(code.status, 16) for code in read_list(bytes.fromhex(sent), 0).codes]
    assert list(zip(ours(sent), statuses, strict=True)) == [tuple(record) for record in records]


# Drawn, so that the numbers' three high bits are in use.
def test_can_j1939_reads_the_same_numbers_and_modes():
    j1939 = pytest.importorskip("j1939", reason="can-j1939 is not installed")
    draw = random.Random(1939)
    for _ in range(300):
        number, mode, times = draw.randrange(1, 524_287), draw.randrange(31), draw.randrange(127)
        theirs = j1939.DTC(spn=number, fmi=mode, oc=times).dtc
        sent = bytes([4, 255]) + theirs.to_bytes(4, "little")
        [code] = read_message(sent, "DM1").codes
        back = j1939.DTC(dtc=int.from_bytes(sent[2:], "little"))
        assert (code.code, code.occurrences) == (f"SPN{back.spn}/{back.fmi}", str(back.oc))


def test_vininfo_agrees_on_check_digits_and_years():
    vininfo = pytest.importorskip("vininfo", reason="vininfo is not installed")
    # Published with 49 CFR 565 and by its agency.
    for number, digit in (("1G4AH59H45G118341", "4"), ("1M8GDM9AXKP042788", "X"), ("1J9RP1A36A1644345", "6")):
        assert check_digit(number) == digit
        assert vininfo.Vin(number).verify_checksum()
        assert model_year(number) in vininfo.Vin(number).years


def test_scapy_puts_the_same_frames_together():
    isotp = pytest.importorskip("scapy.contrib.isotp", reason="scapy is not installed")
    draw = random.Random(15765)
    for length in (1, 7, 8, 13, 14, 127, 300, 4095):
        sent = bytes([0x59]) + draw.randbytes(length - 1)
        assembly = Assembly()
        for place, frame in enumerate(isotp.ISOTP(sent, rx_id=0x7E8).fragment(), 1):
            assembly.add(place, read_frame(f"can0 7E8#{frame.data.hex()}"))
        assembly.close()
        assert assembly.messages == [Message(1, "7E8", sent, can=True, bus="can0")]
        assert not assembly.faults
