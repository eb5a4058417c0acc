// typed: readings that a person types, what modules did, and the faults that remain.

function startTyped() {
  const place = byId("entry-place"), other = byId("entry-other"), long = byId("entry-long"), kind = byId("entry-kind"), value = byId("entry-value"), error = byId("entry-error"), told = byId("entry-said");
  const clear = byId("clear"), unclear = byId("unclear");
  const entries = []; // { reading, value }
  const asked = startAsked(() => {
    told.textContent = "";
    show();
  });
  const places = [...data.places.keys()].sort((a, b) => data.places[a].minutes - data.places[b].minutes);
  const typeable = [...data.readings, ...data.ends];
  const HERE = "";
  // othersOf are the places from which a lead can go to one.
  const othersOf = at => new Set(data.ends.flatMap(r => (r.from === at ? [r.to] : r.to === at ? [r.from] : [])));
  const readingsAt = (at, to) => [...typeable.keys()].filter(i => {
    const r = typeable[i];
    return to === undefined ? r.points === undefined && r.place === at : r.points !== undefined && ((r.from === at && r.to === to) || (r.from === to && r.to === at));
  });
  const kindText = r => (data.networks.length > 1 ? data.networks[r.kindOf.network] + ": " : "") + r.kindOf.label + (r.between ? ", " + r.between : "");
  const placeOption = i => [i, data.places[i].name + (data.places[i].note ? ": " + data.places[i].note : "")];

  options(place, places.map(placeOption));
  const listKinds = () => {
    const before = kind.value === "" ? undefined : typeable[kind.value].kindOf;
    const list = readingsAt(Number(place.value), other.value === HERE ? undefined : Number(other.value));
    // Where both places have several cavities the points say which.
    options(kind, list.map(i => [i, kindText(typeable[i]) + (typeable[i].contacts ? ", " + typeable[i].points.join(" to ") : "")]));
    const same = list.find(i => typeable[i].kindOf === before);
    if (same !== undefined) kind.value = same;
    long.hidden = other.value === HERE;
  };
  const listOthers = () => {
    const before = other.value, there = othersOf(Number(place.value));
    options(other, [[HERE, "at the same connector"], ...places.filter(i => there.has(i)).map(placeOption)]);
    other.value = before !== HERE && there.has(Number(before)) ? before : HERE;
    listKinds();
  };
  const goTo = reading => {
    place.value = reading.place;
    listOthers();
    other.value = reading.to ?? HERE;
    listKinds();
    kind.value = typeable.indexOf(reading);
    value.focus();
  };
  place.addEventListener("change", listOthers);
  other.addEventListener("change", listKinds);
  other.closest("p").hidden = data.ends.length === 0;
  listOthers();

  const wrong = text => {
    error.textContent = text;
    if (text) value.setAttribute("aria-invalid", "true");
    else value.removeAttribute("aria-invalid");
  };
  byId("entry").addEventListener("submit", e => {
    e.preventDefault();
    const reading = typeable[Number(kind.value)];
    const got = typedValue(reading.kindOf.volts, value.value);
    if (got.wrong) {
      wrong(got.wrong);
      value.focus();
      return;
    }
    wrong("");
    const old = entries.findIndex(x => x.reading === reading);
    told.textContent = "";
    if (old >= 0) { // the same points again: the newer counts
      const [before] = entries.splice(old, 1);
      const now = written(reading.kindOf.volts, got.value);
      told.textContent = placeText(reading) + ", " + kindText(reading) + ": " + now + " takes the place of " + written(reading.kindOf.volts, before.value) + ", typed before.";
    }
    entries.push({ reading, value: got.value });
    value.value = "";
    show();
    value.focus();
  });

  // What was typed goes out and comes back in words, so that a page made anew from a
  // harness that was changed takes what still fits.
  const inWords = () => ({
    typed: entries.map(x => [x.reading.at, kindText(x.reading), x.value]),
    ticked: asked.filter(x => x.did !== "").map(x => [data.answers[x.scan].tool, data.answers[x.scan].modules[x.module], x.did]),
  });
  const lists = x => (Array.isArray(x) ? x.filter(Array.isArray) : []);
  function takeIn({ typed, ticked }) {
    for (const [at, text, read] of lists(typed)) {
      const reading = typeable.find(r => r.at === at && kindText(r) === text);
      if (reading && (read === null || Number.isFinite(read))) entries.push({ reading, value: read });
    }
    for (const [tool, name, did] of lists(ticked)) asked.find(x => data.answers[x.scan].tool === tool && data.answers[x.scan].modules[x.module] === name)?.set(did);
  }

  // For the next vehicle: all off at once, and back where that was a slip.
  let cleared;
  clear.addEventListener("click", () => {
    cleared = inWords();
    entries.length = 0;
    for (const x of asked) x.set("");
    wrong("");
    told.textContent = "Taken off: " + count(cleared.typed.length, "reading", "readings") + " and " + count(cleared.ticked.length, "tick", "ticks") + ".";
    show();
    unclear.hidden = false;
    value.focus();
  });
  unclear.addEventListener("click", () => {
    takeIn(cleared);
    told.textContent = "What was taken off is here again.";
    show();
    value.focus();
  });

  function show() {
    const ticked = asked.filter(x => x.did !== "");
    const nothing = entries.length + ticked.length === 0;
    keep(nothing ? null : inWords());
    unclear.hidden = true;
    clear.hidden = nothing;
    byId("entered").hidden = entries.length === 0;
    byId("remaining").hidden = nothing;
    byId("typed").classList.toggle("has", !nothing);
    byId("asked-said").textContent = askedText(ticked);
    byId("entered-table").tBodies[0].replaceChildren(...entries.map(entryRow));
    const holds = (x, fault) => within(x.value, cellOf(x.reading, fault).may);
    const ticks = fault => agrees(asked, fault);
    const remains = fault => entries.every(x => holds(x, fault)) && ticks(fault);
    const left = [...data.faults.keys()].filter(remains), healthy = remains(HEALTHY);
    byId("remaining-said").textContent = nothing ? "" : remainingText(left, healthy, entries, ticked);
    sayFurther(left, healthy, entries, ticked, goTo);
    if (nothing) return;
    if (left.length === 0 && !healthy) withoutOne(entries, holds, ticks);
    const most = 60;
    byId("remaining-table").tBodies[0].replaceChildren(...left.slice(0, most).map(f =>
      make("tr", {}, make("th", { scope: "row" }, pickButton(f, nameOf(f))), make("td", {}, partOf(f).name + (partOf(f).about ? ", " + partOf(f).about : "")))));
    byId("remaining-table").closest(".scroll").hidden = left.length === 0;
    byId("remaining-more").textContent = left.length > most ? "And " + (left.length - most) + " more. A further reading makes them fewer." : "";
    byId("file").value = fileText(entries, asked);
  }

  // entryRow is a typed reading with a button to take it off. The roles are said since a
  // narrow screen lays the rows out as boxes.
  function entryRow(x, i) {
    const r = x.reading, fits = within(x.value, r.may);
    const off = make("button", { type: "button", "aria-label": "Take off " + placeText(r) + " " + kindText(r) }, "Take off");
    off.addEventListener("click", () => {
      entries.splice(i, 1);
      told.textContent = "";
      show();
      value.focus();
    });
    const cell = (label, cls, ...content) => make("td", { role: "cell", class: cls, "data-label": label }, ...content);
    return make("tr", { role: "row" }, make("th", { scope: "row", role: "rowheader" }, placeText(r), make("span", { class: "note" }, kindText(r))), cell("read", "n", written(r.kindOf.volts, x.value)),
      cell("healthy reads", "n", written(r.kindOf.volts, r.healthy)), cell("healthy wiring", fits ? "" : "outside", fits ? "may read so" : "never reads so ✕"), cell("", "off", off));
  }

  const before = kept();
  if (before) {
    takeIn(before);
    if (entries.length + asked.filter(x => x.did !== "").length > 0) told.textContent = "What you typed before is here again.";
  }
  show();
}

// remainingText says how many faults remain, and whether healthy wiring does.
function remainingText(left, healthy, entries, ticked) {
  if (left.length === 0 && !healthy) {
    return "Nothing remains: neither healthy wiring nor any one fault " + (ticked.length ? "gives" : "reads") + " all of this. Take the readings again, supply off and network asleep; " + (ticked.length ? "a module may be silent for reasons of its own; " : "") + "or there are two faults, which whatif match looks for. What was typed for another vehicle has to be taken off first.";
  }
  const parts = new Set(left.map(f => data.faults[f].part)).size;
  const so = entries.length === 0 ? "do so" : "read so", does = entries.length === 0 ? "does so" : "reads so";
  return count(left.length, "fault", "faults") + " of " + data.faults.length + (left.length === 1 ? " remains" : " remain") + ", at " + count(parts, "part", "parts") + ". " +
    (healthy ? "Healthy wiring may " + so + " too." : "Healthy wiring never " + does + ": something is wrong.");
}
