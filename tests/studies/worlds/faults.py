"""The parts that can fail: what they are called and cost, which module watches them, and by which standard codes.

Prices in euros, times in minutes: ordinary aftermarket figures, from memory.  The standard codes are those of
``sql/reference/generic_codes.csv``.
"""

from dataclasses import dataclass, field

CYLINDERS = ("cylinder 1", "cylinder 2", "cylinder 3", "cylinder 4")
WHEELS = ("front left", "front right", "rear left", "rear right")
SIDES = ("left", "right")
SEATS = ("driver", "passenger")
NOWHERE = ("",)


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part that can fail.

    Attributes:
        name: Spelling of the price book.
        also: Other names.
        cost: Its price.
        minutes: Labour to fit it.
        check: Minutes to prove it faulty.
        home: The module that watches it.
        codes: Its home's standard codes, whatever the place.
        placed: For each place, the home's standard codes of that place.
        elsewhere: Codes that other modules store for it.
        places: Where it can sit.
        system: What a terse text names in its place.
        network: lost or invalid: what the other modules say of its home while it is faulty.
        kills: The part that its fault breaks in time.
        fuel: The fuel of cars that have it, blank for any.
        worn: Exponent of distance in its wear; 0: age and distance do not matter.
        cold: Factor on its faults in cold months.
    """

    name: str
    also: tuple[str, ...]
    cost: float
    minutes: int
    check: int
    home: str
    codes: tuple[str, ...] = ()
    placed: tuple[tuple[str, ...], ...] = ()
    elsewhere: tuple[tuple[str, str], ...] = ()
    places: tuple[str, ...] = field(default=NOWHERE)
    system: str
    network: str = ""
    kills: str = ""
    fuel: str = ""
    worn: float = 0.7
    cold: float = 1.0


def _p(
    name: str,
    also: str,
    money: tuple[float, int, int],
    home: str,
    system: str,
    codes: str = "",
    elsewhere: tuple[tuple[str, str], ...] = (),
    places: tuple[str, ...] = NOWHERE,
    placed: str = "",
    network: str = "",
    kills: str = "",
    fuel: str = "",
    worn: float = 0.7,
    cold: float = 1.0,
) -> Part:
    cost, minutes, check = money
    each = tuple(tuple(one.split("+")) for one in placed.split())
    if each and len(each) != len(places):
        raise ValueError(f"{name}: {len(each)} groups of codes for {len(places)} places")
    return Part(
        name=name, also=tuple(also.split(";")), cost=cost, minutes=minutes, check=check, home=home, system=system,
        codes=tuple(codes.split()), placed=each, elsewhere=elsewhere, places=places, network=network, kills=kills,
        fuel=fuel, worn=worn, cold=cold,
    )  # fmt: skip


_ECM_GEARS = (("ECM", "P0700"),)
_LOW = (("ABS", "C0564"), ("BCM", "U3003"), ("IPC", "U3003"), ("SRS", "U3003"), ("HVAC", "U3003"))

PARTS: tuple[Part, ...] = (
    _p("ignition coil", "coil pack;coil", (34, 20, 10), "ECM", "combustion", "P0300", places=CYLINDERS,
       placed="P0301+P0351 P0302+P0352 P0303+P0353 P0304+P0354", fuel="petrol", cold=1.4),
    _p("spark plugs", "plugs;spark plug set", (38, 40, 20), "ECM", "combustion", "P0300 P0302 P0303", fuel="petrol",
       worn=1.5),
    _p("oxygen sensor upstream", "lambda sensor front;front oxygen sensor", (78, 30, 15), "ECM", "exhaust gas",
       "P0131 P0133 P0135 P0171", fuel="petrol"),
    _p("oxygen sensor downstream", "lambda sensor rear;rear oxygen sensor", (69, 30, 15), "ECM", "exhaust gas",
       "P0136 P0141"),
    _p("air mass sensor", "air mass meter;MAF sensor", (88, 15, 15), "ECM", "intake air", "P0101 P0102 P0171"),
    _p("intake hose", "air intake hose;intake bellows", (29, 35, 15), "ECM", "intake air", "P0171 P0507 P2187",
       kills="air mass sensor", worn=1.2),
    _p("throttle body", "throttle valve;throttle unit", (145, 45, 20), "ECM", "intake air", "P0121 P0507 P0638 P2101",
       cold=1.3),
    _p("EGR valve", "exhaust gas valve;EGR", (148, 80, 25), "ECM", "exhaust gas", "P0401 P0403", fuel="diesel",
       worn=1.4),
    _p("boost hose", "charge air hose;intercooler hose", (42, 40, 15), "ECM", "charge pressure", "P0299 P2263",
       kills="boost control solenoid", worn=1.3),
    _p("boost control solenoid", "boost solenoid;boost pressure solenoid", (48, 25, 15), "ECM", "charge pressure",
       "P0045 P0234 P0299"),
    _p("turbocharger", "turbo;charger unit", (620, 240, 40), "ECM", "charge pressure", "P0299 P2263", worn=1.8),
    _p("coolant thermostat", "thermostat", (43, 75, 20), "ECM", "coolant", "P0128 P2181", cold=2.5),
    _p("coolant temperature sensor", "coolant sensor;ECT sensor", (15, 25, 10), "ECM", "coolant", "P0116 P0117 P0118",
       cold=1.3),
    _p("crank position sensor", "crank sensor;crankshaft sensor", (29, 40, 15), "ECM", "engine speed", "P0335 P0336"),
    _p("cam position sensor", "cam sensor;camshaft sensor", (27, 30, 15), "ECM", "engine speed", "P0340 P0341 P0016"),
    _p("knock sensor", "detonation sensor", (35, 60, 15), "ECM", "combustion", "P0325", fuel="petrol"),
    _p("purge valve", "tank vent valve;canister valve", (36, 20, 10), "ECM", "tank venting", "P0441 P0443 P0456",
       fuel="petrol"),
    _p("fuel cap", "filler cap;tank cap", (12, 2, 2), "ECM", "tank venting", "P0455 P0457", fuel="petrol"),
    _p("fuel pump", "in-tank pump;fuel delivery pump", (165, 90, 25), "ECM", "fuel delivery", "P0087 P2187", worn=1.3),
    _p("rail pressure sensor", "fuel rail sensor", (64, 40, 15), "ECM", "fuel delivery", "P0191 P0193", fuel="diesel"),
    _p("fuel injector", "injector;injection nozzle", (135, 60, 25), "ECM", "combustion", "P0300", places=CYLINDERS,
       placed="P0201+P0301 P0202+P0302 P0203+P0303 P0204+P0304", fuel="diesel", worn=1.4),
    _p("glow plug", "heater plug", (16, 30, 8), "ECM", "preheating", "", places=CYLINDERS,
       placed="P0671 P0672 P0673 P0674", fuel="diesel", cold=3.0),
    _p("glow plug relay", "preheat relay;glow relay", (39, 15, 10), "ECM", "preheating", "P0380 P0670", fuel="diesel",
       cold=2.5),
    _p("main relay", "engine relay;engine supply relay", (19, 15, 10), "ECM", "supply", "P0685", network="lost"),
    _p("catalytic converter", "catalyst;cat", (340, 110, 30), "ECM", "exhaust gas", "P0420", fuel="petrol", worn=2.0),
    _p("differential pressure sensor", "DPF sensor;filter pressure sensor", (46, 25, 15), "ECM", "soot filter",
       "P2452 P2002",
       fuel="diesel"),
    _p("particulate filter", "DPF;soot filter", (480, 150, 30), "ECM", "soot filter", "P2002 P2463", fuel="diesel",
       worn=1.8),
    _p("NOx sensor", "nitrogen oxide sensor", (240, 40, 15), "ECM", "exhaust gas", "P229F P20EE", fuel="diesel"),
    _p("accelerator pedal sensor", "throttle pedal;pedal sensor", (72, 20, 10), "ECM", "pedal", "P2122 P2127 P2138"),
    _p("brake pedal switch", "brake light switch;stop lamp switch", (14.5, 15, 5), "ECM", "pedal", "P0504 P0571",
       elsewhere=(("ABS", "C0040"), ("TCM", "P0571"))),
    _p("oil pressure switch", "oil switch", (18, 20, 8), "ECM", "lubrication", "P0520 P0522"),
    _p("cooling fan relay", "fan relay", (24, 20, 10), "ECM", "coolant", "P0480"),
    _p("alternator", "generator", (236, 80, 10), "ECM", "charging", "P0562 P0620 P0622", elsewhere=_LOW, worn=1.2),
    _p("battery", "starter battery;12 V battery", (112, 20, 8), "ECM", "charging", "P0560 P0562", elsewhere=_LOW,
       cold=3.0),
    _p("refrigerant pressure sensor", "AC pressure sensor", (41, 30, 10), "HVAC", "climate", "P0532 P0533"),
    _p("wheel speed sensor", "ABS sensor;speed sensor wheel", (31, 35, 15), "ABS", "wheel speed", "", places=WHEELS,
       placed="C0031+C0032 C0034 C0037 C003A", elsewhere=(("ECM", "P0500"), ("TCM", "P0501")), network="invalid",
       cold=1.5),
    _p("wheel speed ring", "ABS ring;tone ring", (18, 90, 15), "ABS", "wheel speed", "C0030", places=WHEELS,
       placed="C0031 C0034 C0037 C003A", elsewhere=(("ECM", "P0501"),), kills="wheel speed sensor", worn=1.3, cold=1.5),
    _p("brake pressure sensor", "pressure sensor brake", (96, 60, 20), "ABS", "brake pressure", "C0044",
       network="invalid"),
    _p("ABS hydraulic unit", "ABS unit;hydraulic block", (330, 140, 45), "ABS", "brake pressure", "C0010 C0020",
       network="lost"),
    _p("steering angle sensor", "angle sensor", (128, 60, 15), "ABS", "steering", "C0051", network="invalid"),
    _p("yaw rate sensor", "yaw sensor;rotation rate sensor", (145, 30, 15), "ABS", "vehicle movement", "C0061 C0063"),
    _p("clock spring", "spiral cable;airbag slip ring", (74, 55, 20), "SRS", "steering wheel", "B0001 B0002"),
    _p("seat connector", "plug under seat;seat harness plug", (7.5, 25, 10), "SRS", "seat", "", places=SIDES,
       placed="B0020 B0028", worn=0.0),
    _p("belt buckle", "buckle switch;seat belt buckle", (58, 30, 10), "SRS", "seat", "", places=SEATS,
       placed="B0050 B0052", worn=0.3),
    _p("crash sensor", "impact sensor", (47, 40, 15), "SRS", "crash sensing", "", places=SIDES, placed="B0091 B0096"),
    _p("seat occupancy mat", "seat mat;occupancy sensor", (110, 80, 20), "SRS", "seat", "B00A0"),
    _p("tyre pressure sensor", "TPMS sensor;wheel valve sensor", (39, 30, 5), "TPMS", "tyres", "C0077", places=WHEELS,
       worn=1.2, cold=1.5),
    _p("parking sensor", "PDC sensor;park sensor", (27, 30, 10), "PAM", "parking aid", places=WHEELS, cold=1.6),
    _p("headlamp level sensor", "level sensor", (52, 30, 10), "HLL", "headlamp range", places=("front", "rear"),
       cold=1.4),
    _p("door lock", "lock motor;door latch", (64, 50, 15), "BCM", "central locking", places=WHEELS, cold=1.8),
    _p("blower resistor", "fan resistor;blower control", (26, 30, 10), "HVAC", "ventilation"),
    _p("flap motor", "air flap actuator;mixing flap motor", (33, 70, 15), "HVAC", "ventilation", places=SIDES),
    _p("gear range sensor", "selector position sensor;gear position switch", (61, 45, 15), "TCM", "gear selection",
       "P0705",
       elsewhere=_ECM_GEARS, network="invalid"),
    _p("transmission speed sensor", "gearbox speed sensor", (44, 50, 15), "TCM", "gearbox", "P0715 P0717 P0720",
       elsewhere=(*_ECM_GEARS, ("ECM", "P0500")), network="invalid"),
    _p("torque converter clutch valve", "converter lock-up valve", (86, 120, 30), "TCM", "gearbox", "P0741 P0730",
       elsewhere=_ECM_GEARS, worn=1.5),
    _p("power steering motor", "steering assist motor;EPS motor", (390, 120, 30), "EPS", "steering", network="lost"),
    _p("wiper motor", "windscreen wiper motor", (71, 40, 10), "BCM", "wiping", cold=1.8),
    _p("rain sensor", "rain light sensor", (38, 15, 5), "BCM", "wiping", cold=1.3),
    _p("parking brake actuator", "EPB motor;park brake motor", (118, 60, 15), "EPB", "parking brake", places=SIDES,
       network="lost"),
)  # fmt: skip

BY_NAME: dict[str, Part] = {part.name: part for part in PARTS}

LOOM_MINUTES, LOOM_COST = 90, 12.0
"""What mending a loom takes once it is found; no price book has it."""


EQUIPMENT: dict[str, tuple[tuple[str, str], ...]] = {
    "aftermarket head unit": (
        ("RADIO", "speaker output, no load"),
        ("IPC", "U0184"),
        ("BCM", "U0184"),
        ("TEL", "U0184"),
    ),
    "tow bar": (
        ("BCM", "trailer socket not coded"),
        ("PAM", "rear zone covered"),
        ("PAM", "rear zone, distance constant"),
    ),
    "LED lamp bulbs": (
        ("BCM", "side lamp, current too low"),
        ("BCM", "number plate lamp, current too low"),
        ("HLL", "lamp type"),
    ),
    "lowering springs": (("HLL", "height outside learned range"), ("ABS", "height not plausible"), ("ASU", "height")),
    "aftermarket alarm": (
        ("BCM", "bonnet contact not plausible"),
        ("IMMO", "horn output"),
        ("DDM", "lock line held low"),
    ),
}
"""What is fitted later, and the codes that come with it: a standard code, or the text of a maker's."""

QUIRK_TEXT = "calibration data, check value"
