// What is typed at a check, read as the walk reads it (`engine.readings.bands`). Patterns, units and
// letters of the grammar stand in the page, written there from the walk's own; what a check's
// answers are stands on their elements. Only the order in which things are tried is told twice, and
// a test holds both to each other.
//
// read(text, test) gives {shares: [[outcome, share] ...]}, or {code} where the text is no answer:
// RD1 not understood, RD2 wrong unit, RD3 impossible, RD4 ambiguous, RD5 a number not wanted.
const WHITE = /[\s\x1c-\x1f\x85]+/;  // what is white to either of the two

class Readings {
  constructor(grammar) {
    this.g = grammar;
    this.spellings = new Map(Object.entries(grammar.spellings));
    this.letters = new Map(Object.entries(grammar.letters));
    this.exponents = new Map(Object.entries(grammar.exponents));
    this.whole = {};
    this.lead = {};
    for (const [name, [pattern, flags]] of Object.entries(grammar.patterns)) {
      this.whole[name] = new RegExp("^(?:" + pattern + ")$", flags);
      this.lead[name] = new RegExp("^(?:" + pattern + ")", flags);
    }
    this.kind = new RegExp(...grammar.patterns.kind);
  }

  read(text, test) {
    try {
      return { shares: this.answer(text.split(WHITE).filter(Boolean).join(" "), test) };
    } catch (trouble) {
      if (typeof trouble !== "string") throw trouble;
      return { code: trouble };
    }
  }

  answer(plain, test) {
    if (!plain) throw "RD1";
    const words = fold(plain);
    const named = test.outcomes.find((o) => [fold(o.id), fold(o.says)].includes(words));
    if (named) return [[named.id, 1]];
    if ([...plain].length > this.g.longest) throw "RD1";
    const scale = bandsOf(test);
    if (scale.length && this.isOver(plain)) return this.over(test, scale);
    if (scale.length && /[0-9]/.test(plain)) return this.inBands(plain, test, scale);
    const found = (scale.length ? "" : this.diode(plain, test)) || beginning(words, test);
    if (found) return [[found, 1]];
    throw !scale.length && /^[+\-−<>~]?\s*[0-9.,]/.test(plain) ? "RD5" : "RD1";
  }

  isOver(text) { return this.whole.over.test(text.trim()); }

  over(test, scale) {
    const own = test.outcomes.find(
      (o) => !o.unit && [o.id, o.says].some((words) => this.isOver(fold(words))));
    if (own) return [[own.id, 1]];
    const top = scale[scale.length - 1];
    if (top.high !== Infinity || (test.base !== "Ω" && !test.diode)) throw "RD3";
    return [[top.id, 1]];
  }

  inBands(plain, test, scale) {
    const read = /[VvAa]\s*(AC|DC)$/i.exec(plain);
    const range = /^(AC|DC)\b/.exec(test.instrument);
    if (read && range && read[1].toUpperCase() !== range[1]) throw "RD2";
    if (test.base === "Ω" && plain === "1" && scale[scale.length - 1].low > 1) throw "RD4";
    this.onePrefix(plain, test, scale);
    const [low, high] = this.cut(this.interval(plain, test.unit), test, scale);
    const found = shares(low, high, scale);
    if (!found.length) throw "RD3";
    return found;
  }

  // A bare number that says another thing in amperes than in milliamperes is asked for again.
  onePrefix(plain, test, scale) {
    if (test.base !== "A" || !this.whole.bare.test(plain.trim())) return;
    const edges = scale.flatMap((b) => [b.low, b.high]).filter(Number.isFinite);
    const most = this.g.sensible * Math.max(0, ...edges);
    const [wide] = this.interval(plain + " A", "A");
    const [fine] = this.interval(plain + " mA", "A");
    const [here] = this.interval(plain, test.unit);
    const other = here === wide ? fine : wide;
    const same = String(shares(here, here, scale)) === String(shares(other, other, scale));
    if (Math.abs(other) <= most && !same) throw "RD4";
  }

  cut([low, high], test, scale) {
    const [least, most] = [test.least ?? -Infinity, test.most ?? Infinity];
    if (low > most || (high < least && least < 0)) throw "RD3";
    const edges = scale.flatMap((b) => [b.low, b.high]).filter(Number.isFinite);
    const floor = Math.min(...(edges.length ? edges : [0])) >= 0 ? 0 : least;
    if (high < floor) return this.belowZero(high, test, scale);
    const bottom = Math.max(low, floor);
    const top = Number.isFinite(high) ? Math.min(high, most) : high;
    if (bottom < top && bottom <= floor && top >= most) throw "RD1";
    return [bottom, top];
  }

  belowZero(high, test, scale) {
    if (test.base === "Ω") throw "RD3";
    const first = scale.map((b) => b.high).find((edge) => edge > 0 && edge < Infinity) || 0;
    if (["V", "A"].includes(test.base) && high >= -first / 20) return [0, 0];
    throw "RD3";
  }

  // -- numbers, bounds, spans and spreads -------------------------------------------------------

  interval(text, unit) {
    const plain = text.replace(this.lead.about, "");
    const bound = this.whole.oneSided.exec(plain);
    if (bound) {
      const { value } = this.quantity(bound[2], unit);
      const upward = this.g.upward.includes(bound[1].toLowerCase());
      return upward ? [value, Infinity] : [-Infinity, value];
    }
    let whole;
    try {
      whole = this.quantity(plain, unit);
    } catch (trouble) {
      if (trouble !== "RD1") throw trouble;
      return this.twoNumbers(plain, unit);
    }
    const span = Math.abs(whole.value);
    return [whole.value - span * whole.minus, whole.value + span * whole.plus];
  }

  twoNumbers(plain, unit) {
    const spread = this.whole.spread.exec(plain);
    const parts = spread || this.whole.span.exec(plain);
    if (!parts) throw "RD1";
    let [, first, second] = parts;
    const number = this.lead.bare.exec(second);
    if (this.whole.bare.test(first) && number) first += second.slice(number[0].length);
    else if (number && number[0].length === second.length) {
      const lead = this.lead.number.exec(first);
      if (lead) second += first.slice(lead[0].length);
    }
    const one = this.quantity(first, unit).value;
    const other = this.quantity(second, unit).value;
    const [low, high] = spread ? [one - other, one + other] : [one, other];
    return [Math.min(low, high), Math.max(low, high)];
  }

  quantity(text, unit) {
    const bare = text.trim().replace(this.kind, "");
    const [exponent, base] = this.spellings.get(unit);
    if (!this.whole.bare.test(bare)) return this.readAs(bare, base);
    const value = Number(bare.replace(",", ".").replace("−", "-"));
    if (Math.abs(value) > this.g.largest) throw "RD3";
    return { value: scaled(String(value), exponent), minus: 0, plus: 0 };
  }

  readAs(text, unit) {
    let found;
    try {
      found = this.written(text, "");
    } catch (trouble) {
      if (typeof trouble !== "string") throw trouble;
      found = this.written(text, unit);
    }
    if (found.unit !== unit) throw "RD2";
    return found;
  }

  written(text, unit) {
    const [body, minus, plus] = this.tolerance(text.split(/\s+/).filter(Boolean).join(" "));
    const found = this.value(body, unit);
    if (!found.unit) throw "RD1";
    return { ...found, minus, plus };
  }

  tolerance(text) {
    const lopsided = this.whole.lopsided.exec(text);
    if (lopsided && lopsided[2] !== lopsided[4]) {
      const [first, second] = [fraction(lopsided[3]), fraction(lopsided[5])];
      return lopsided[2] === "+" ? [lopsided[1], second, first] : [lopsided[1], first, second];
    }
    const symmetric = this.whole.symmetric.exec(text);
    if (symmetric && !this.whole.digits.test(symmetric[1])) {
      const share = fraction(symmetric[2]);
      return [symmetric[1], share, share];
    }
    return [text, 0, 0];
  }

  value(body, unit) {
    const minus = /^[-−]/.test(body);
    const rest = minus ? body.slice(1).trimStart() : body.replace(/^\+/, "");
    const code = this.lead.code.exec(rest);
    const [digits, exponent, own, tail] = code
      ? this.code(code, rest, unit) : this.plain(rest, unit);
    if (tail) throw "RD1";
    const value = scaled(digits, exponent) * (minus ? -1 : 1);
    if (Math.abs(value) > this.g.largest) throw "RD3";
    return { value, unit: own };
  }

  code(code, rest, unit) {
    const letter = code[2] || code[4];
    const [exponent, brings] = this.letters.get(letter);
    const firm = this.g.firm.includes(letter);
    let tail = rest.slice(code[0].length).trim();
    let own = unit && !firm ? unit : brings;
    const [shift, named] = this.spellings.get(tail) || [1, ""];
    if (tail && shift === 0 && (!firm || named === brings)) [own, tail] = [named, ""];
    return [(code[1] || "0") + "." + (code[3] || code[5]), exponent, own, tail];
  }

  plain(rest, unit) {
    const number = this.lead.grouped.exec(rest);
    if (!number) throw "RD1";
    const digits = number[0].replace(/[ \u00a0\u2009\u202f]/g, "").replace(",", ".");
    let tail = rest.slice(number[0].length);
    let exponent = 0;
    const power = this.lead.power.exec(tail);
    if (power) {
      exponent = Number(power[0].slice(1).replace("−", "-"));
      tail = tail.slice(power[0].length);
    }
    tail = tail.trim();
    if (this.exponents.has(tail)) {
      const more = this.exponents.get(tail);
      if (!unit && tail === "m") throw "RD1";
      return [digits, exponent + more, unit || (more > 0 ? "Ω" : "F"), ""];
    }
    if (this.spellings.has(tail)) {
      const [shift, own] = this.spellings.get(tail);
      return [digits, exponent + shift, own, ""];
    }
    return [digits, exponent, unit, tail];
  }

  // Volts on the diode range, at a check that is answered in words.
  diode(plain, test) {
    if (!test.instrument.includes(this.g.diode.range)) return "";
    let volts = Infinity;
    if (!this.g.diode.over.includes(plain.toLowerCase())) {
      try {
        const found = this.written(plain, "V");
        if (found.unit !== "V" || found.value < 0) return "";
        volts = found.value;
      } catch (trouble) {
        if (typeof trouble !== "string") throw trouble;
        return "";
      }
    }
    const ids = test.outcomes.map((o) => o.id);
    for (const [names, low, high] of this.g.diode.shows) {
      const end = high === null ? Infinity : high;
      if ((low <= volts && volts < end) || (volts === end && end === Infinity)) {
        return names.find((name) => ids.includes(name)) || "";
      }
    }
    return "";
  }
}

function fold(text) {
  return text.replace(/[\s\-_]+/g, " ").replace(/^[ .]+|[ .]+$/g, "").toLowerCase();
}

function beginning(words, test) {
  if (!words) return "";
  const found = test.outcomes.filter(
    (o) => fold(o.id).startsWith(words) || fold(o.says).startsWith(words));
  if (found.length > 1) throw "RD4";
  return found.length ? found[0].id : "";
}

// The measured answers in the base unit, ascending.
function bandsOf(test) {
  return test.outcomes.filter((o) => o.unit)
    .map((o) => ({ id: o.id, low: o.low ?? -Infinity, high: o.high ?? Infinity }))
    .sort((one, other) => (one.low < other.low ? -1 : Number(one.low > other.low)));
}

// Each band's part of [low, high]; a plain value belongs to one band, lower bounds included.
function shares(low, high, scale) {
  if (low === high) {
    return scale.filter((b) => b.low <= low && low < b.high).slice(0, 1).map((b) => [b.id, 1]);
  }
  const parts = scale.map((b) => [b.id, Math.min(high, b.high) - Math.max(low, b.low)])
    .filter(([, part]) => part > 0);
  const total = parts.reduce((sum, [, part]) => sum + part, 0);
  return parts.map(([id, part]) =>
    [id, Number.isFinite(total) ? part / total : 1 / parts.length]);
}

function fraction(percent) { return scaled(percent.replace(",", "."), -2); }

// Digits times a power of ten, rounded once.
function scaled(digits, exponent) {
  const [mantissa, own] = digits.toLowerCase().split("e");
  return Number(mantissa + "e" + (Number(own || 0) + exponent));
}
