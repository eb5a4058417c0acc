// numbers: how readings are written and how typed ones are read.

// written is a reading as a meter shows it; null stands for OL. The library writes
// numbers by the same rule, and the page carries only the digits of that.
function written(volts, value) {
  if (value === null) return "OL";
  if (volts) return value.toFixed(3) + " V";
  if (value >= 999950) return (value / 1e6).toFixed(2) + " MΩ";
  if (value >= 999.95) return (value / 1e3).toFixed(2) + " kΩ";
  if (value >= 9.995) return value.toFixed(1) + " Ω";
  return value.toFixed(2) + " Ω";
}

// typedValue reads what a person types: 60.8, 4.82k, 4,82 kΩ, 1.2M, OL. It gives the
// value, or a text that says what is wrong.
function typedValue(volts, text) {
  const t = text.trim().replace(/\s+/g, "").replace("\u2212", "-");
  if (t === "") return { wrong: "Nothing is typed. Type what the meter shows, such as " + (volts ? "2.45" : "60.8") + "." };
  if (/^(ol|0l|o\.l\.?)([kM]?([Ω\u2126]|ohms?))?$/i.test(t)) {
    if (volts) return { wrong: "A voltage does not read OL. Type a number of volts, such as 2.45." };
    return { value: null };
  }
  const m = /^([+-]?\d*[.,]?\d+|[+-]?\d+[.,])([kKmM]?)((?:[Ω\u2126]|[oO][hH][mM][sS]?)|(?:[vV]([oO][lL][tT][sS]?)?))?$/.exec(t);
  if (m && m[3] && /^v/i.test(m[3]) !== volts) return { wrong: "“" + text.trim() + "” is in " + (volts ? "ohms, and this reading is in volts" : "volts, and this reading is in ohms") + ". Choose the reading that was taken, or type the number alone." };
  if (m && !volts && m[2] === "" && /^[1-9]\d{0,2},\d{3}$/.test(m[1])) return { wrong: "“" + text.trim() + "” could be " + m[1].replace(",", ".") + " or " + m[1].replace(",", "") + ". Type it with a point or without the comma." };
  if (!m) return { wrong: "“" + text.trim() + "” is no reading. Type a number such as " + (volts ? "2.45" : "60.8, 4.82k, 1.2M or OL") + "." };
  let value = Number(m[1].replace(",", "."));
  const prefix = m[2];
  if (volts && prefix === "m") value /= 1e3;
  else if (volts && prefix !== "") return { wrong: "Volts have no prefix here but m. Type a number of volts, such as 2.45." };
  else if (prefix === "m") return { wrong: "“m” could be milli or mega. Type M for megohms, or the ohms as a number, such as 0.2." };
  else if (prefix === "k" || prefix === "K") value *= 1e3;
  else if (prefix === "M") value *= 1e6;
  if (!volts && value < 0) return { wrong: "A resistance is not negative. Where a meter shows one below zero, a voltage is still there: supply off, and wait." };
  if (volts && Math.abs(value) > 60) return { wrong: "That is more than any network's supply has. Type volts, such as 2.45." };
  return { value };
}

// within tells whether a reading lies in limits, OL above everything.
function within(value, [least, greatest]) {
  const y = v => (v === null ? Infinity : v);
  return y(value) >= y(least) && y(value) <= y(greatest);
}
