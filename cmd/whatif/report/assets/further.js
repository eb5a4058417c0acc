// further: what to ask next: which reading that was not taken, or who answers a scan
// tool, tells the remaining faults apart best.

// A question has a name for each thing that faults do there: kinds, a list of
// { faults, parts, may(other) }, where may tells whether a fault of this kind could do
// what other is shown with.

// askReading puts a reading as a question: kinds are the faults that read the same.
function askReading(reading, left) {
  const kinds = gather(left, f => reading.of[f], cell => ({ cell, may: other => within(other.cell.value, cell.may) }));
  return { reading, place: data.places[reading.place], kinds };
}

// askModules puts a scan as a question: kinds are the faults with which the same
// modules answer, at each value of theirs.
function askModules(scan, left) {
  const kinds = gather(left, f => waysOf(scan, f).join(), (key, f) => {
    const ways = waysOf(scan, f);
    return { way: ways[0], may: other => ways.some(way => [...way].every((did, i) => did === "m" || other.way[i] === "m" || did === other.way[i])) };
  });
  const place = data.places.find(p => p.name === scan.tool) ?? { name: scan.tool, minutes: 0 };
  return { scan, place, kinds };
}

// gather puts faults of one key together: how many they are and at which parts.
function gather(left, key, make) {
  const out = new Map();
  for (const f of left) {
    const k = key(f);
    if (!out.has(k)) out.set(k, { ...make(k, f), faults: 0, parts: new Set() });
    out.get(k).faults++;
    out.get(k).parts.add(data.faults[f].part);
  }
  return [...out.values()];
}

// furtherStep looks for the question that is most worth its time. For each fault that
// remains, as it is shown, the answer would leave those faults that may do the same;
// the parts of these are counted, and the mean over the faults is taken. What halves the
// parts is one bit. Most bits a minute wins, of those that say at least a quarter of the
// most that any says; where that is level, fewer faults, then the order given. It gives
// nothing where no question leaves fewer parts than there are.
function furtherStep(left, questions, minutes) {
  const all = new Set(left.map(f => data.faults[f].part)).size;
  for (const q of questions) {
    let parts = 0, faults = 0;
    for (const one of q.kinds) {
      const stay = q.kinds.filter(other => other === one || other.may(one));
      parts += one.faults * new Set(stay.flatMap(k => [...k.parts])).size;
      faults += one.faults * stay.reduce((sum, k) => sum + k.faults, 0);
    }
    q.parts = parts / left.length;
    q.faults = faults / left.length;
    q.bits = Math.log2(all / q.parts);
    q.minutes = minutes(q);
  }
  const most = Math.max(0, ...questions.map(q => q.bits));
  const worth = questions.filter(q => q.bits > 1e-9 && q.bits >= most / 4);
  const rate = q => q.bits / q.minutes;
  return worth.reduce((best, q) => (!best || rate(q) > rate(best) + 1e-9 || (rate(q) > rate(best) - 1e-9 && q.faults < best.faults - 1e-9) ? q : best), undefined);
}

// groupsOf puts together what may read alike: limits that touch, directly or through
// others. Different groups never read the same.
function groupsOf(kinds) {
  const y = v => (v === null ? Infinity : v);
  const out = [];
  for (const k of [...kinds].sort((a, b) => y(a.cell.may[0]) - y(b.cell.may[0]) || 0)) {
    const [least, greatest] = k.cell.may;
    let g = out[out.length - 1];
    if (!g || y(least) > y(g.greatest)) out.push(g = { least, greatest, faults: 0, parts: new Set() });
    if (y(greatest) > y(g.greatest)) g.greatest = greatest;
    g.faults += k.faults;
    for (const p of k.parts) g.parts.add(p);
  }
  return out;
}
