// advice: what to do next in words.

// sayFurther says where to look, or what to ask next. left are the faults that remain,
// healthy tells whether healthy wiring does too, entries and ticked are what was typed;
// take turns the controls to a reading.
function sayFurther(left, healthy, entries, ticked, take) {
  const out = byId("further");
  out.replaceChildren();
  const say = (head, text) => out.append(make("p", { class: "next" }, make("strong", {}, head), " " + text));
  const parts = new Set(left.map(f => data.faults[f].part)).size;
  if (parts === 0) return;
  if (parts === 1) {
    say("Look at " + partOf(left[0]).name + ".", healthy ? "If anything is wrong in the wiring, it is there; healthy wiring may read so too." : "All faults that remain are there.");
    return;
  }
  const scans = data.answers.filter((a, scan) => !ticked.some(x => x.scan === scan));
  if (scans.length && healthy) {
    say("Say first who is silent.", "Where it is known which modules answer the scan tool and which do not, tick them above: that parts faults of which the nearest connectors show nothing.");
  }
  const ask = readings => readings.filter(r => !entries.some(x => x.reading === r)).map(r => askReading(r, left));
  const minutes = minutesAfter(entries, ticked);
  // Two places to reach and a long lead: only where no single place says anything.
  const best = furtherStep(left, [...scans.map(a => askModules(a, left)), ...ask([...data.readings].sort(nearest))], minutes) ?? furtherStep(left, ask(data.ends), minutes);
  if (!best) {
    out.append(make("p", { class: "next" }, make("strong", {}, "No reading on this page tells these apart."), " Look at " + byRate(left).join(", then ") + ": the parts with the commonest faults first; ", make("code", {}, "whatif match"), " and ", make("code", {}, "whatif next"), " weigh what is left."));
    return;
  }
  const average = "If the fault is as shown, that leaves faults at " + best.parts.toFixed(1) + " of " + parts + " parts on average, common faults counting for more.";
  // Where a plug is apart, the harness is another one for every reading but its own.
  const apart = new Set(entries.filter(x => x.reading.kindOf.unplugged).map(x => partAt(x.reading)));
  if (best.reading?.kindOf.unplugged) apart.delete(partAt(best.reading));
  const back = apart.size > 0 ? "Plug back what was apart first, supply off. " : "";
  // What leaves nearly all says little, however good it is beside others.
  const little = best.parts > 0.8 * parts ? " That is little, but the most for its minutes." : "";
  const begins = entries.length + ticked.length === 0;
  if (best.scan) {
    say((begins ? "Start with the modules: " : "Ask the modules next: ") + "scan tool at " + best.scan.tool + ", supply on.", back + "Tick above which answer and which are silent. " + average + little + " With the faults as shown:");
    list(out, byWay(best), w => silentText(best.scan, w.way));
    return;
  }
  const button = make("button", { type: "button" }, "Type this reading");
  button.addEventListener("click", () => take(best.reading));
  const r = best.reading, groups = groupsOf(best.kinds);
  const head = (begins ? "Start " : "Read next ") + (r.points ? "from " : "at ") + placeText(r) + ": " + kindInWords(r.kindOf) + ".";
  const away = reachMinutes(placesOf(r), reached(entries, ticked));
  const reach = back + (away > 0 ? away + " min to reach. " : "");
  if (groups.length < 2) {
    say(head, reach + "It parts the " + left.length + " remaining faults into no groups that are certain, since what they may read overlaps. " + average + little);
    out.append(make("p", { class: "screen" }, button));
    return;
  }
  say(head, reach + "It parts the " + left.length + " remaining faults into " + groups.length + " groups whose readings do not overlap:");
  list(out, groups, g => readsText(r, g));
  out.append(make("p", {}, average + little), make("p", { class: "screen" }, button));
}

// byRate names the parts of faults, those with the commonest faults first.
function byRate(left) {
  const rates = new Map();
  for (const f of left) rates.set(data.faults[f].part, (rates.get(data.faults[f].part) ?? 0) + data.faults[f].rate);
  const names = [...rates].sort((a, b) => b[1] - a[1]).map(([part]) => data.parts[part].name);
  const some = first(names);
  return some.length < names.length ? [...some, "the " + (names.length - some.length) + " others"] : names;
}

// first gives the first few of a list, where that leaves out more than one.
function first(names) {
  const most = 6;
  return names.length > most + 1 ? names.slice(0, most) : names;
}

// reached are the parts that a meter or a scan tool was at.
function reached(entries, ticked) {
  return new Set([...entries.flatMap(x => placesOf(x.reading)).map(p => p.part), ...ticked.map(x => data.answers[x.scan].tool)]);
}

// reachMinutes is how long it takes to get to places, each part once, those reached for
// nothing.
function reachMinutes(places, there) {
  const away = new Map(places.filter(p => !there.has(p.part)).map(p => [p.part, p.minutes]));
  return [...away.values()].reduce((sum, m) => sum + m, 0);
}

// minutesAfter gives what a question costs after what was typed last: reaching its places
// unless a meter was there already, switching the supply, the reading itself.
function minutesAfter(entries, ticked) {
  const there = reached(entries, ticked);
  const last = entries.at(-1);
  const on = last ? last.reading.kindOf.volts : ticked.length > 0;
  return q => {
    const wantsOn = q.scan ? true : q.reading.kindOf.volts;
    const switched = entries.length + ticked.length > 0 && wantsOn !== on;
    return reachMinutes(q.places, there) + (switched ? data.costs.supply : 0) + (q.scan ? data.costs.tool : data.costs.read) + (q.reading?.kindOf.unplugged ? data.costs.unplug : 0);
  };
}

// byWay puts together the faults with which the modules do the same, as shown; the
// most faults first.
function byWay(question) {
  const out = new Map();
  for (const k of question.kinds) {
    const way = k.ways[0];
    if (!out.has(way)) out.set(way, { way, faults: 0, parts: new Set() });
    const w = out.get(way);
    w.faults += k.faults;
    for (const part of k.at.keys()) w.parts.add(part);
  }
  return [...out.values()].sort((a, b) => b.faults - a.faults);
}

// list writes groups of faults, the first few of them.
function list(out, groups, name) {
  const most = 8;
  const lines = groups.slice(0, most).map(g => {
    const names = [...g.parts].map(p => data.parts[p].name);
    const some = first(names);
    const where = some.join(", ") + (some.length < names.length ? " and " + (names.length - some.length) + " more parts" : "");
    return make("li", {}, name(g) + ": " + count(g.faults, "fault", "faults") + " at " + where);
  });
  if (groups.length > most) lines.push(make("li", {}, "and " + count(groups.length - most, "group", "groups") + " more"));
  out.append(make("ul", {}, ...lines));
}

// readsText says what a group may read.
function readsText(r, g) {
  const v = r.kindOf.volts;
  if (g.least === Infinity) return "OL";
  return written(v, g.least) + (g.greatest === Infinity ? " or more" : " to " + written(v, g.greatest));
}

// withoutOne names each of what was typed without which something would remain, where
// nothing does: it may be misread, or a second fault. holds tells whether a fault agrees
// with one entry, ticks whether it agrees with what was ticked.
function withoutOne(entries, holds, ticks) {
  if (entries.length < 2 && ticks(HEALTHY)) return; // without the only one all is left
  const all = [HEALTHY, ...data.faults.keys()];
  const out = [];
  const tell = (what, left) => {
    if (left.length === 0) return;
    const parts = [...new Set(left.filter(f => f !== HEALTHY).map(f => partOf(f).name))];
    const names = [...(left.includes(HEALTHY) ? ["healthy wiring"] : []), ...(parts.length > 0 ? [parts.length > 6 ? "faults at " + parts.length + " parts" : "faults at " + parts.join(", ")] : [])];
    out.push(make("li", {}, "without " + what + ": " + names.join(" and ")));
  };
  entries.forEach((x, i) => tell(placeText(x.reading) + " " + kindInWords(x.reading.kindOf) + ", " + written(x.reading.kindOf.volts, x.value), all.filter(f => ticks(f) && entries.every((y, j) => j === i || holds(y, f)))));
  tell("what was ticked", all.filter(f => !ticks(f) && entries.every(y => holds(y, f))));
  if (out.length > 0) byId("further").append(make("p", { class: "next" }, "One of these may be misread, or come from a second fault. There remain:"), make("ul", {}, ...out));
}
