// further: what to ask next: which reading that was not taken, or who answers a scan
// tool, says most about the part to repair.

// A question has kinds: the faults that do the same there, { faults, at } with what
// they weigh at each part. outcomes visits each kind with what would remain if the
// answer were as that kind is shown: the faults that may do the same.

// askReading puts a reading as a question.
function askReading(reading, left) {
  const y = v => (v === null ? Infinity : v);
  const kinds = gather(left, f => reading.of[f], cell => ({ cell, value: y(cell.value), least: y(cell.may[0]), greatest: y(cell.may[1]) }));
  const outcomes = visit => {
    // A sweep over the values: kinds come in at their least and go at their greatest.
    const by = of => [...kinds].sort((a, b) => (a[of] < b[of] ? -1 : a[of] > b[of] ? 1 : 0));
    const coming = by("least"), going = by("greatest"), remain = new Tally();
    let in_ = 0, out = 0;
    for (const one of by("value")) {
      while (in_ < coming.length && coming[in_].least <= one.value) remain.change(coming[in_++], 1);
      while (out < going.length && going[out].greatest < one.value) remain.change(going[out++], -1);
      visit(one, remain);
    }
  };
  return { reading, places: placesOf(reading), kinds, outcomes };
}

// askModules puts a scan as a question: kinds are the faults with which the same
// modules answer, at each value of theirs. A marginal module may do either.
function askModules(scan, left) {
  const kinds = gather(left, f => waysOf(scan, f).join(), (key, f) => ({ ways: waysOf(scan, f) }));
  const may = (way, shown) => [...way].every((did, i) => did === "m" || shown[i] === "m" || did === shown[i]);
  const outcomes = visit => {
    const remain = new Map(); // by what is shown, which many kinds share
    for (const one of kinds) {
      const shown = one.ways[0];
      if (!remain.has(shown)) {
        const tally = new Tally();
        for (const other of kinds) if (other.ways.some(way => may(way, shown))) tally.change(other, 1);
        remain.set(shown, tally);
      }
      visit(one, remain.get(shown));
    }
  };
  return { scan, places: data.places.filter(p => p.name === scan.tool), kinds, outcomes };
}

// gather puts faults of one key together: how many they are, and at each part how many
// and how common.
function gather(left, key, make) {
  const out = new Map();
  for (const f of left) {
    const k = key(f);
    if (!out.has(k)) out.set(k, { ...make(k, f), faults: 0, weight: 0, at: new Map() });
    const kind = out.get(k), { part, rate } = data.faults[f];
    if (!kind.at.has(part)) kind.at.set(part, { faults: 0, weight: 0 });
    const at = kind.at.get(part);
    for (const sum of [kind, at]) {
      sum.faults++;
      sum.weight += rate;
    }
  }
  return [...out.values()];
}

// Tally adds up kinds of faults by part.
class Tally {
  constructor() {
    this.faults = new Int32Array(data.parts.length);
    this.weights = new Float64Array(data.parts.length);
    this.parts = 0; // with a fault at them
  }
  change(kind, sign) {
    for (const [part, at] of kind.at) {
      const before = this.faults[part];
      this.faults[part] += sign * at.faults;
      if (before === 0) this.parts++;
      if (this.faults[part] === 0) this.parts--;
      this.weights[part] = this.faults[part] === 0 ? 0 : this.weights[part] + sign * at.weight;
    }
  }
  // bits is the entropy over the parts: what is not known of which it is.
  get bits() {
    let total = 0, sum = 0;
    for (const w of this.weights) {
      if (w <= 0) continue;
      total += w;
      sum += w * Math.log2(w);
    }
    return total > 0 ? Math.log2(total) - sum / total : 0;
  }
}

// furtherStep looks for the question that is most worth its time: the one with the most
// bits a minute about which part it is, of those that say at least a quarter of the most
// that any says, common faults counting for more. Where that is level, the order given.
// It gives nothing where no question says anything.
function furtherStep(left, questions, minutes) {
  const all = new Tally();
  for (const kind of gather(left, () => 0, () => ({}))) all.change(kind, 1);
  const now = all.bits;
  for (const q of questions) {
    let weight = 0, bits = 0, parts = 0;
    q.outcomes((one, remain) => {
      weight += one.weight;
      bits += one.weight * remain.bits;
      parts += one.weight * remain.parts;
    });
    q.bits = now - bits / weight;
    q.parts = parts / weight;
    q.minutes = minutes(q);
  }
  const most = Math.max(0, ...questions.map(q => q.bits));
  const worth = questions.filter(q => q.bits > 0.005 && q.bits >= most / 4);
  return worth.reduce((best, q) => (!best || q.bits / q.minutes > best.bits / best.minutes + 1e-9 ? q : best), undefined);
}

// groupsOf puts together what may read alike: limits that touch, directly or through
// others. Different groups never read the same.
function groupsOf(kinds) {
  const out = [];
  for (const k of [...kinds].sort((a, b) => (a.least < b.least ? -1 : a.least > b.least ? 1 : 0))) {
    let g = out[out.length - 1];
    if (!g || k.least > g.greatest) out.push(g = { least: k.least, greatest: k.greatest, faults: 0, parts: new Set() });
    g.greatest = Math.max(g.greatest, k.greatest);
    g.faults += k.faults;
    for (const part of k.at.keys()) g.parts.add(part);
  }
  return out;
}
