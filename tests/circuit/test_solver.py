"""Our solver against closed forms: of a few parts it must make what algebra makes of them."""

import math

import numpy as np
import pytest
from scipy.special import lambertw

from engine.circuit.figures import figures
from engine.circuit.job import Job, Request, attempt, judged, run
from engine.circuit.running import results
from engine.electrics import mains
from engine.solver.expressions import ReadingError, expression, row, value
from engine.solver.network import network
from engine.solver.solution import Unsolved, drops, flattened, impedance, transient
from render.cli.commands.derive import toll_words

THERMAL = 1.380649e-23 * 300.15 / 1.602176634e-19
"""kT/e at SPICE's 27 degrees Celsius, volts."""


def waves(lines, nodes, seconds, step):
    """Waves of the nodes of a few lines."""
    return transient(flattened(lines), seconds, step, nodes)


@pytest.mark.parametrize("step", [2e-4, 1e-4, 5e-5])
def test_a_capacitor_fills_through_a_resistor(step):
    """1 - exp(-t/RC), within a share that falls with the square of the step."""
    seen = waves("V1 a 0 1\nR1 a b 1k\nC1 b 0 1u\n", ["b"], 5e-3, step)
    due = 1 - np.exp(-seen["time"] / 1e-3)
    assert np.abs(seen["b"] - due).max() < 0.15 * (step / 1e-3) ** 2


def test_a_coil_and_a_capacitor_ring():
    """10 mH, 10 uF, 2 ohm let go at 1 V: amplitude and phase of the damped cosine, ten periods."""
    lines = "C1 a 0 10u IC=1\nL1 a b 10m\nR1 b 0 2\n"
    seen = waves(lines, ["a"], 0.02, 2e-6)
    decay = 2 / (2 * 10e-3)
    turn = math.sqrt(1 / (10e-3 * 10e-6) - decay**2)
    time = seen["time"]
    due = np.exp(-decay * time) * (np.cos(turn * time) + decay / turn * np.sin(turn * time))
    assert np.abs(seen["a"] - due)[1:].max() < 5e-3


@pytest.mark.parametrize("volts", [0.3, 0.7, 2.0, 30.0])
def test_a_diode_behind_a_resistor(volts):
    """Lambert's W: i = (nVt/R) W(Is R/(nVt) exp((V + Is R)/(nVt))) - Is (T. Banwell 2000)."""
    amperes, scale, ohms = 1e-9, 1.8 * THERMAL, 150.0
    lines = f"""
V1 a 0 {volts}
R1 a b 100
D1 b 0 one
.model one D(IS={amperes} N=1.8 RS=50)
"""
    argument = math.log(amperes * ohms / scale) + (volts + amperes * ohms) / scale
    w = float(lambertw(math.exp(min(argument, 500))).real)
    for _ in range(50 if argument > 500 else 0):  # where the exponential is past any number
        w = argument - math.log(w)
    due = scale / ohms * w - amperes
    seen = waves(lines, ["b"], 1e-3, 1e-4)["b"][-1]
    assert (volts - seen) / 100 == pytest.approx(due, rel=1e-3, abs=1e-11)


@pytest.mark.parametrize("volts", [230, 120])
def test_ripple_behind_a_bridge(volts):
    """The exact closed form of `engine.electrics.mains.ripple`, within two per cent."""
    peak, load = volts * math.sqrt(2), 0.04
    lines = f"""
V1 l n SIN(0 {peak} 50)
RL n 0 100Meg
D1 l b quick
D2 n b quick
D3 0 l quick
D4 0 n quick
.model quick D(IS=1e-9 N=0.1)
C1 b 0 10u
B1 b 0 I={load}*tanh(max(0,v(b))/10)
"""
    seen = waves(lines, ["b"], 0.3, 5e-5)
    late = seen["b"][seen["time"] > 0.2]
    assert late.max() - late.min() == pytest.approx(mains.ripple(volts, load, 10e-6, 50), rel=0.02)


def test_half_waves_through_a_diode():
    """Mean Vp/pi less the drop, 200 V: 63.4 V, and no more than the peak."""
    lines = """
V1 a 0 SIN(0 200 50)
D1 a b one
.model one D(IS=1e-9 N=1.8)
R1 b 0 10k
"""
    seen = waves(lines, ["b"], 0.2, 1e-4)
    shown = figures(seen["time"], seen["b"], 0.1, 0.2, 50)
    assert shown["mean"] == pytest.approx(200 / math.pi - 0.5 * 0.6, rel=5e-3)
    assert 198.5 < shown["top"] < 200


@pytest.mark.parametrize("milliamperes", [1.0, 5.0, 20.0])
def test_a_zener_shunt(milliamperes):
    """At its rated current the rated volts; NBV kT/e more for each e-fold, and its RS."""
    lines = f"""
I1 0 k {milliamperes}m
D1 0 k z
.model z D(IS=1e-14 RS=3 BV=5.1 IBV=5m NBV=5)
"""
    seen = waves(lines, ["k"], 1e-3, 1e-4)["k"][-1]
    due = 5.1 + 5 * THERMAL * math.log(milliamperes / 5) + 3e-3 * milliamperes
    assert seen == pytest.approx(due, abs=2e-3)


def test_a_source_keeps_its_course():
    """Sine, pulse and polygon at their corners, met though they lie between even steps."""
    lines = """
V1 s 0 SIN(1 2 50 5m)
V2 p 0 PULSE(0 3 1.1m 0.1m 0.3m 2m 10m)
V3 q 0 PWL(0 0 3.3m 4 7m -1)
R1 s 0 1k
R2 p 0 1k
R3 q 0 1k
"""
    seen = waves(lines, ["s", "p", "q"], 0.02, 4e-4)
    at = dict(zip(seen["time"].round(9), zip(seen["s"], seen["p"], seen["q"], strict=True),
                  strict=True))  # fmt: skip
    edges = (0.0011, 0.0012, 0.0032, 0.0035)
    assert [at[time][1] for time in edges] == pytest.approx([0, 3, 3, 0])
    assert [at[time][2] for time in (0.0033, 0.007)] == pytest.approx([4, -1])
    late = seen["time"] > 5e-3
    due = 1 + 2 * np.sin(2 * math.pi * 50 * (seen["time"][late] - 5e-3))
    assert seen["s"][late] == pytest.approx(due)
    assert set(seen["s"][(seen["time"] > 0) & ~late]) == {1.0}


@pytest.mark.parametrize(("seconds", "step"), [
    (1e-3, math.nan), (math.inf, 1e-4), (math.nan, 1e-4), (1e-3, 0.0), (1e-3, -1.0),
])  # fmt: skip
def test_a_course_without_end_is_none(seconds, step):
    """No step leads on from there."""
    with pytest.raises(Unsolved):
        waves("V1 a 0 1\nR1 a 0 1k\n", ["a"], seconds, step)


def test_a_source_that_never_rests_is_given_up():
    """Two thousand million turns would fill the memory: it ends after two million steps."""
    with pytest.raises(Unsolved):
        waves("V1 a 0 PULSE(0 1 0 0 0 1n 2n)\nR1 a 0 1k\n", ["a"], 4.0, 4e-4)


def test_a_meter_reads_a_divider_and_a_diode():
    """Drops range by range until one is small enough; the other way round the diode blocks."""
    forth, back = drops(flattened("R1 a 0 4.7k\n"), "a", "0", 1.0, (1e3, 1e4, 1e5), 0.5)
    assert forth == pytest.approx([4.7 / 5.7, 4.7 / 14.7])
    assert back == pytest.approx([-4.7 / 5.7, -4.7 / 14.7])
    circuit = flattened("D1 a 0 one\n.model one D(IS=1e-12)\n")
    (forth,), (back,) = drops(circuit, "a", "0", 2.8, (2.8e3,), 0.0)
    assert forth == pytest.approx(THERMAL * math.log((2.8 - forth) / 2.8e3 / 1e-12), abs=1e-4)
    assert back == pytest.approx(-2.8, abs=1e-6)


def test_a_small_signal_meets_resistance_coil_and_capacitor():
    """R + j(wL - 1/wC) at 1 kHz; across a diode that carries 1 mA, kT/e over it."""
    turn = 2 * math.pi * 1e3
    ohms = impedance(flattened("R1 a b 3\nL1 b c 2m\nC1 c 0 10u\n"), "a", "0", 1e3)
    assert ohms == pytest.approx(complex(3, turn * 2e-3 - 1 / (turn * 10e-6)), rel=1e-6)
    lines = "I1 0 a 1m\nD1 a 0 one\n.model one D(IS=1e-14)\n"
    assert impedance(flattened(lines), "a", "0", 1e3).real == pytest.approx(
        THERMAL / 1e-3, rel=1e-3
    )


def test_a_switch_with_hysteresis_has_two_points_of_rest_over_time():
    """A comparator that feeds itself back keeps what a pulse set."""
    lines = """
V1 set 0 PULSE(0 1 1m 0.1m 0.1m 1m 1)
B1 wish 0 V=0.5*(1+tanh((v(set)+v(out)-0.5)/1m))
R1 wish out 1k
C1 out 0 50n
"""
    seen = waves(lines, ["out"], 6e-3, 4e-4)
    before, after = seen["out"][seen["time"] < 1e-3], seen["out"][seen["time"] > 4e-3]
    assert before.max() < 1e-6
    assert after == pytest.approx(1, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("2+3*4", 14.0), ("-2^2", -4.0), ("(1 > 2 ? 5 : 6)*1m", 6e-3), ("{n*4}", 52.0),
        ("min(1,max(0,-3))+sgn(-2)", -1.0), ("pow(-2,3)", 8.0), ("1Meg/4u", 2.5e11),
        ("exp(0)+abs(-1)+tanh(0)", 2.0), ("1 && 0 || !0", 1.0), ("5m >= 5m", 1.0),
    ],
)  # fmt: skip
def test_an_expression_of_numbers_is_worked_out(text, due):
    """SPICE's precedence, suffixes and functions (pow takes the size of its base)."""
    assert value(text, {"n": 13}) == pytest.approx(due)


def test_derivatives_are_those_of_differences():
    """Of each function where it is smooth: the answer to a small signal tells its slope."""
    formulas = (
        "v(a)*v(a)", "v(a)/(1+v(a))", "tanh(v(a))", "exp(v(a)/3)", "pow(v(a),1.3)", "pow(v(a),3)",
        "sqrt(v(a))", "ln(1+v(a))", "sin(v(a))", "cos(v(a))+2*v(a)", "atan(v(a))",
        "min(v(a),9)*2", "max(v(a),9)+abs(v(a)-9)*3", "(v(a) > 1 ? 3*v(a) : 0)",
    )  # fmt: skip

    def at(formula, volts):
        circuit = flattened(f"V1 a 0 {volts!r}\nB1 b 0 V={formula}\nR1 b 0 1\n")
        return transient(circuit, 1e-3, 1e-4, ["b"])["b"].tolist()[-1]

    for formula in formulas:
        lines = f"I1 0 a 0\nR1 a s 1\nV1 s 0 1.7\nB1 a 0 I={formula}-({at(formula, 1.7)!r})\n"
        slope = (at(formula, 1.7 + 1e-5) - at(formula, 1.7 - 1e-5)) / 2e-5
        ohms = impedance(flattened(lines), "a", "0", 1.0).real
        assert 1 / ohms - 1 == pytest.approx(slope, rel=1e-4), formula


def test_what_parameters_switch_off_is_gone():
    """A sound contact is a resistor, and its random sources with it."""
    from kb.language.circuit import netlist_text

    parts = netlist_text("parts.lib")
    sound, loose = (network(f"{parts}X1 a 0 contact shaky={n}\n") for n in (0, 1))
    assert len(sound.elements) == 5 * 4
    assert len(loose.elements) > len(sound.elements)


def test_a_row_does_equal_work_once():
    """`v(a)*v(b)` twice is worked out once."""
    once, twice = (row(expression(t, {})) for t in ("v(a)*v(b)+1", "v(a)*v(b)+v(a)*v(b)"))
    assert len(once.operations) == len(twice.operations)


@pytest.mark.parametrize(
    "text",
    ["Q1 a b c npn\n", "R1 a 0 0\n", "B1 a 0 I=foo(v(b))\n", "X1 a 0 nothing\n",
     "V1 a 0 1\nV2 a 0 2\n",
     "D1 a 0 one\n.model one D(IS=1e-9 TT=1u)\n", "B1 a 0 V=i(V9)\n",
     ".tran 1 2\n"],
)  # fmt: skip
def test_what_the_solver_has_no_reading_of_is_said(text):
    """Unsolved, not a number."""
    with pytest.raises(Unsolved):
        transient(flattened(f"{text}R9 a 0 1\n"), 1e-3, 1e-4, ["a"])


def test_a_subcircuit_within_itself_is_refused():
    """And does not go on for ever."""
    with pytest.raises(ReadingError, match="no subcircuit"):
        network(".subckt one a b\nX1 a b one\n.ends\nX1 a 0 one\n")


def test_what_the_solver_gives_up_ngspice_does():
    """A transistor: the same figures as by the judge alone."""
    lines = "V1 c 0 5\nQ1 c c e bent\nR1 e 0 1k\n.model bent NPN(IS=1e-14)\n"
    job = Job(lines, 0.01, 50, (Request("wave", "e", "0", 0.0, 0.01),))
    assert run(job) == judged(job)
    assert attempt(job).given_up == 1
    assert 4 < run(job)[0]["high"] < 5


def test_what_was_given_up_is_counted_as_circuits_come():
    """One circuit that our solver does, one that ngspice does, one that neither does."""
    wave = Request("wave", "e", "0", 0.0, 0.01)
    bent = "V1 c 0 5\nQ1 c c e bent\nR1 e 0 1k\n.model bent NPN(IS=1e-14)\n"
    texts = ("V1 e 0 5\nR1 e 0 1k\n", bent, "V1 e 0 1\nV2 e 0 2\nR1 e 0 1k\n")
    tolls = []
    found = results(
        [Job(text, 0.01, 50, (wave,)) for text in texts], None, toll=lambda *one: tolls.append(one)
    )
    assert sorted(tolls) == [(0, 0), (1, 0), (1, 1)]
    assert sum(not figures for figures in found.values()) == 1


@pytest.mark.parametrize(
    ("counts", "words"),
    [((0, 0, 0), "Nothing was left"), ((7, 0, 0), "7 circuits simulated, none given up on"),
     ((7, 3, 1), "gave up on 3 readings, ngspice on 1 of them")],
)  # fmt: skip
def test_derive_tells_what_was_given_up(counts, words):
    """In one sentence."""
    assert words in toll_words(*counts)
