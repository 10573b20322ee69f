// What a typed value means and what it says of a check, as far as the page can
// tell without the network. Both are held equal to the server's answers by the
// golden files in testdata/bench; where they could differ, they say nothing.

// The ways values are written, unit by unit: names of the unit, prefixes before
// it, letters that stand for the decimal mark.
const micro = { u: -6, "µ": -6, "μ": -6 };
const units = {
  "Ω": {
    names: ["Ω", "\u2126", "ohm", "Ohm"],
    prefixes: { m: -3, k: 3, K: 3, M: 6, G: 9 },
    codes: { R: 0, L: -3, m: -3, k: 3, K: 3, M: 6, G: 9 },
    like: "ohms such as 820, 4.7k, 4k7 or 0R1",
  },
  V: { names: ["V"], prefixes: { ...micro, m: -3, k: 3, K: 3 }, codes: {}, signed: true, like: "volts such as 3.31, 325 V or 6.15m" },
  F: {
    names: ["F"],
    prefixes: { p: -12, n: -9, ...micro, m: -3 },
    codes: { p: -12, n: -9, ...micro, m: -3, F: 0 },
    like: "farads such as 470 nF, 4u7 or 330u",
  },
};

const blanks = /^[ \t\u00a0\u2009\u202f]+|[ \t\u00a0\u2009\u202f]+$/g;

// parse reads a value as a technician types it. It gives {number, digit} in the
// base unit, {over: true} for OL, or {problem}: a sentence for the person.
export function parse(text, unit) {
  const u = units[unit];
  const wrong = { problem: `“${text}”: not understood. Type ${u.like}, or OL.` };
  let s = text.replace(blanks, "");
  if (s === "") return { problem: `Nothing is typed. Type what the meter shows: ${u.like}, or OL.` };
  if (s === "OL") return { over: true, number: 0, digit: 0 };
  if (["0L", "0.L", "O.L", ".0L", "ol", "0l", "oL", "Ol"].includes(s)) return wrong;
  const minus = /^[-−]/.test(s);
  if (minus && !u.signed) return wrong;
  if (minus) s = s.slice(1);
  const n = scanNumber(s, u.codes);
  if (!n || n.digits.length > 15) return wrong;
  const exp = scanUnit(n.rest, u, n.coded);
  if (exp === null) return wrong;
  const number = Number(n.digits + "e" + (n.exp + exp));
  return { number: minus && number !== 0 ? -number : number, digit: Number("1e" + (n.exp + exp)) };
}

// scanNumber takes the number from the front: digits, the exponent of the last
// of them, what follows, and whether a letter was the decimal mark.
function scanNumber(s, codes) {
  const [whole] = /^\d*/.exec(s);
  const mark = s[whole.length] ?? "";
  const [fraction] = /^\d*/.exec(s.slice(whole.length + 1));
  const after = s.slice(whole.length + mark.length + fraction.length);
  if (mark === "." || mark === ",") {
    if (fraction === "" || /^[.,'’]/.test(after)) return null;
    return { digits: whole + fraction, exp: -fraction.length, rest: after };
  }
  if (mark in codes && fraction !== "") {
    return { digits: whole + fraction, exp: codes[mark] - fraction.length, rest: after, coded: true };
  }
  return whole === "" ? null : { digits: whole, exp: 0, rest: s.slice(whole.length) };
}

// scanUnit gives the exponent of what stands after the number, null when it
// does not belong there.
function scanUnit(rest, u, coded) {
  rest = rest.replace(blanks, "");
  if (rest === "" || u.names.includes(rest)) return 0;
  if (coded) return null;
  const after = rest.slice(1).replace(blanks, "");
  if (rest[0] in u.prefixes && (after === "" || u.names.includes(after))) return u.prefixes[rest[0]];
  return rest.length === 1 && rest in u.codes ? u.codes[rest] : null;
}

const bad = "nonconforming";
const fine = "conforming";
const unsure = "inconclusive";

// less compares displayed values; null is OL and stands above every number.
const less = (a, b) => a !== null && (b === null || a < b);

// verdict says what a reading says of a check of the expectation table: a word
// of JCGM 106, or "" when that is the server's to say. value is parse's answer,
// marks are the keys that were pressed.
export function verdict(table, check, value, marks = {}) {
  if (marks.swapped || marks.lifted || marks.subject || marks.not_on_metal || !check.known) return "";
  if (marks.residue !== undefined && Math.abs(marks.residue) > 0.1) return unsure;
  const v = value.over ? null : value.number;
  const half = coarse(table, check, value);
  const [low, high] = check.guard;
  const below = (x) => less(v === null ? null : v + x, low);
  const above = (x) => less(high, v === null ? null : v - x);
  if (marks.moving === "down") return unsure;
  if (marks.moving === "up") {
    if (check.measure === "resistance" && above(half)) return bad;
    return half > 0 && check.measure === "resistance" && above(0) ? "" : unsure;
  }
  if (below(half) || above(half)) return bad;
  if (half > 0 && (below(0) || above(0))) return "";
  if (less(v, check.low) || less(check.high, v)) return half > 0 ? "" : unsure;
  return check.can_tell ? fine : unsure;
}

// coarse gives half the last typed digit when that is coarser than what the
// meter shows there, 0 otherwise.
function coarse(table, check, value) {
  if (value.over) return 0;
  const steps = table.steps[check.measure] ?? [];
  const step = steps.find(([upTo]) => Math.abs(value.number) <= upTo);
  return step && value.digit > step[1] * (1 + 1e-9) ? value.digit / 2 : 0;
}
