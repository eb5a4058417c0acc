// model: the numbers of the page, unpacked.

const data = JSON.parse(document.getElementById("data").textContent);
const WITHIN = 0, UNLIKELY = 1, OUTSIDE = 2;
const HEALTHY = -1; // in place of a fault

// unpack gives a reading the cell of every fault; faults without one read as healthy
// wiring does.
function unpack(reading) {
  const healthy = { value: reading.healthy, may: reading.may, mark: WITHIN };
  reading.of = new Array(data.faults.length).fill(healthy);
  for (const [value, least, greatest, mark, ...steps] of reading.cells) {
    const cell = { value, may: [least, greatest], mark };
    let fault = 0;
    for (const step of steps) reading.of[fault += step] = cell;
  }
  delete reading.cells;
}

for (const reading of data.readings) {
  unpack(reading);
  reading.at = data.places[reading.place].name;
  reading.kindOf = data.kinds[reading.kind];
}

// Readings from one place to another, along one conductor: each conductor is a kind of
// theirs.
const endKinds = data.conductors.map(c => ({ network: c.network, volts: false, label: "ohms, " + c.label + " to " + c.label + " (supply off)" }));
for (const reading of data.ends) {
  unpack(reading);
  reading.place = reading.from;
  reading.points = [reading.from, reading.to].map((p, i) => data.places[p].name + "." + (reading.contacts?.[i] ?? data.conductors[reading.conductor].name));
  reading.at = reading.points.map((p, i) => (reading.contacts ? p : data.places[[reading.from, reading.to][i]].name)).join(" to ");
  reading.kindOf = endKinds[reading.conductor];
}

// cellOf is what a reading shows with a fault, or healthy.
function cellOf(reading, fault) {
  return fault === HEALTHY ? { value: reading.healthy, may: reading.may, mark: WITHIN } : reading.of[fault];
}

const readingsOf = kind => data.readings.filter(r => r.kind === kind);
const kindsOf = network => data.kinds.map((k, i) => i).filter(i => data.kinds[i].network === network);
const nameOf = fault => (fault === HEALTHY ? "healthy wiring" : data.faults[fault].name);
const partOf = fault => data.parts[data.faults[fault].part];
const nearest = (a, b) => data.places[a.place].minutes - data.places[b.place].minutes;

// place of a reading in words; a place with several readings of one kind says which.
const placeText = r => (r.between ? r.at + " " + r.between : r.at);

// partAt is the part that a reading is taken at: X11 for X11/device too.
const partAt = r => data.places[r.place].part;

// placesOf are the places where the leads go: one, or two.
const placesOf = r => (r.to === undefined ? [r.place] : [r.from, r.to]).map(p => data.places[p]);

// betweenOf is what the leads touch, as a readings file has it.
const betweenOf = r => r.between || r.kindOf.between;

// lies says in words how a value lies to the healthy band.
function lies(reading, cell) {
  if (cell.mark === WITHIN) return "";
  const y = v => (v === null ? Infinity : v);
  const [least] = cell.mark === OUTSIDE ? reading.worst : reading.usual;
  const side = y(cell.value) < y(least) ? "below" : "above";
  return side + (cell.mark === OUTSIDE ? " every healthy harness" : " most healthy harnesses");
}

// shape of a mark: filled outside, hollow where unlikely, up or down.
function glyph(reading, cell) {
  if (cell.mark === WITHIN) return "";
  const below = lies(reading, cell).startsWith("below");
  return cell.mark === OUTSIDE ? (below ? "▼" : "▲") : below ? "▽" : "△";
}

// shows counts the readings of a kind that lie outside with a fault.
const shows = (kind, fault) => readingsOf(kind).filter(r => cellOf(r, fault).mark === OUTSIDE).length;
