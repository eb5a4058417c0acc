// further: which reading that was not taken tells the remaining faults apart best.

// furtherReading looks for the reading after which faults at the fewest parts remain.
// For each fault that remains, as it is shown, the reading would leave those faults
// whose limits hold what it reads; the parts of these are counted, and the mean over
// the faults is taken. Where that is level, fewer faults, then the nearer connector,
// then the order of the page. It gives nothing where no reading leaves fewer parts
// than there are.
function furtherReading(left, readings) {
  let best;
  const all = new Set(left.map(f => data.faults[f].part)).size;
  for (const reading of readings) {
    const kinds = sharedCells(reading, left);
    let parts = 0, faults = 0;
    for (const one of kinds) {
      const stay = kinds.filter(other => other === one || within(one.cell.value, other.cell.may));
      parts += one.faults * new Set(stay.flatMap(k => [...k.parts])).size;
      faults += one.faults * stay.reduce((sum, k) => sum + k.faults, 0);
    }
    const now = { reading, parts: parts / left.length, faults: faults / left.length };
    if (now.parts > all - 1e-9) continue;
    if (!best || better(now, best)) best = now;
  }
  if (best) best.groups = groupsOf(sharedCells(best.reading, left));
  return best;
}

function better(a, b) {
  for (const of of ["parts", "faults"]) if (Math.abs(a[of] - b[of]) > 1e-9) return a[of] < b[of];
  return nearest(a.reading, b.reading) < 0;
}

// sharedCells gathers faults that read the same: how many they are and at which parts.
function sharedCells(reading, left) {
  const out = new Map();
  for (const f of left) {
    const cell = reading.of[f];
    if (!out.has(cell)) out.set(cell, { cell, faults: 0, parts: new Set() });
    const k = out.get(cell);
    k.faults++;
    k.parts.add(data.faults[f].part);
  }
  return [...out.values()];
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
