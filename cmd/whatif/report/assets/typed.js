// typed: readings that a person types, what modules did, and the faults that remain.

function startTyped() {
  const place = byId("entry-place"), kind = byId("entry-kind"), value = byId("entry-value"), error = byId("entry-error"), told = byId("entry-said");
  const entries = []; // { reading, value }
  const asked = []; // { scan, module, did }: what each module did, y or n
  const places = [...data.places.keys()].sort((a, b) => data.places[a].minutes - data.places[b].minutes);
  const readingsAt = at => data.readings.map((r, i) => i).filter(i => data.readings[i].place === at);
  const kindText = r => (data.networks.length > 1 ? data.networks[r.kindOf.network] + ": " : "") + r.kindOf.label + (r.between ? ", " + r.between : "");

  options(place, places.map(i => [i, data.places[i].name + (data.places[i].note ? ": " + data.places[i].note : "")]));
  const listKinds = () => {
    const before = kind.value === "" ? undefined : data.readings[kind.value].kind;
    const list = readingsAt(Number(place.value));
    options(kind, list.map(i => [i, kindText(data.readings[i])]));
    const same = list.find(i => data.readings[i].kind === before);
    if (same !== undefined) kind.value = same;
  };
  place.addEventListener("change", listKinds);
  listKinds();

  const wrong = text => {
    error.textContent = text;
    if (text) value.setAttribute("aria-invalid", "true");
    else value.removeAttribute("aria-invalid");
  };
  byId("entry").addEventListener("submit", e => {
    e.preventDefault();
    const reading = data.readings[Number(kind.value)];
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

  // What each module did: not asked, answers or silent.
  byId("asked").hidden = byId("asked-help").hidden = data.answers.length === 0;
  data.answers.forEach((a, scan) => {
    const group = make("fieldset", {}, make("legend", {}, "Scan tool at " + a.tool + ", supply on: which modules answered?"));
    a.modules.forEach((name, module) => {
      const line = make("span", { class: "asked", role: "radiogroup", "aria-label": name }, make("span", { class: "asked-name", "aria-hidden": "true" }, name));
      const now = { scan, module, did: "" };
      now.set = did => {
        now.did = did;
        for (const radio of line.querySelectorAll("input")) radio.checked = radio.value === did;
      };
      for (const [did, text] of [["", "not asked"], ["y", "answers"], ["n", "silent"]]) {
        const radio = make("input", { type: "radio", name: "asked-" + scan + "-" + module, value: did });
        radio.addEventListener("change", () => {
          now.did = did;
          show();
        });
        line.append(make("label", {}, radio, text));
      }
      now.set("");
      asked.push(now);
      group.append(line);
    });
    byId("asked").append(group);
  });
  byId("asked").addEventListener("submit", e => e.preventDefault());

  // agrees tells whether the modules may have done what was ticked: at one value of
  // the fault's range at least. A marginal module may do either.
  function agrees(fault) {
    return data.answers.every((a, scan) => {
      const ticked = asked.filter(x => x.scan === scan && x.did !== "");
      const ways = fault === HEALTHY ? [a.healthy] : [a.differs[fault] ?? a.healthy, ...(a.ranges[fault] ?? [])];
      return ways.some(way => ticked.every(x => way[x.module] === "m" || way[x.module] === x.did));
    });
  }

  function store() {
    const ticked = asked.filter(x => x.did !== "").map(x => [data.answers[x.scan].tool, data.answers[x.scan].modules[x.module], x.did]);
    const typed = entries.map(x => [data.readings.indexOf(x.reading), x.value]);
    keep(typed.length + ticked.length === 0 ? null : { typed, ticked });
  }

  function restore() {
    const before = kept();
    if (!before) return;
    for (const [i, read] of before.typed ?? []) if (data.readings[i]) entries.push({ reading: data.readings[i], value: read });
    for (const [tool, name, did] of before.ticked ?? []) asked.find(x => data.answers[x.scan].tool === tool && data.answers[x.scan].modules[x.module] === name)?.set(did);
    told.textContent = "What you typed before is here again.";
    show();
  }

  function show() {
    store();
    const ticked = asked.filter(x => x.did !== "");
    const nothing = entries.length + ticked.length === 0;
    byId("entered").hidden = entries.length === 0;
    byId("remaining").hidden = nothing;
    byId("typed").classList.toggle("has", !nothing);
    byId("asked-said").textContent = ticked.length === 0 ? "" : "Scan tool: " + ["y", "n"].map(did => [did, ticked.filter(x => x.did === did).map(x => data.answers[x.scan].modules[x.module])]).filter(([, list]) => list.length > 0).map(([did, list]) => list.join(", ") + (did === "n" ? " silent" : list.length === 1 ? " answers" : " answer")).join("; ") + ".";
    byId("entered-table").tBodies[0].replaceChildren(...entries.map((x, i) => {
      const r = x.reading, fits = within(x.value, r.may);
      const off = make("button", { type: "button", "aria-label": "Take off " + r.at + " " + kindText(r) }, "Take off");
      off.addEventListener("click", () => {
        entries.splice(i, 1);
        told.textContent = "";
        show();
        value.focus();
      });
      // The roles are said since a narrow screen lays the rows out as boxes.
      const cell = (label, cls, ...content) => make("td", { role: "cell", class: cls, "data-label": label }, ...content);
      return make("tr", { role: "row" }, make("th", { scope: "row", role: "rowheader" }, placeText(r), make("span", { class: "note" }, kindText(r))), cell("read", "n", written(r.kindOf.volts, x.value)),
        cell("healthy reads", "n", written(r.kindOf.volts, r.healthy)), cell("healthy wiring", fits ? "" : "outside", fits ? "may read so" : "never reads so ✕"), cell("", "off", off));
    }));
    if (nothing) {
      byId("remaining-said").textContent = "";
      byId("further").replaceChildren();
      return;
    }
    const healthy = entries.every(x => within(x.value, x.reading.may)) && agrees(HEALTHY);
    const left = [...data.faults.keys()].filter(f => entries.every(x => within(x.value, x.reading.of[f].may)) && agrees(f));
    const parts = new Set(left.map(f => data.faults[f].part)).size;
    let text = count(left.length, "fault", "faults") + " of " + data.faults.length + (left.length === 1 ? " remains" : " remain") + ", at " + count(parts, "part", "parts") + ". ";
    const does = entries.length === 0 ? "does so" : "reads so";
    text += healthy ? "Healthy wiring may " + (entries.length === 0 ? "do so" : "read so") + " too." : "Healthy wiring never " + does + ": something is wrong.";
    if (left.length === 0 && !healthy) text = "Nothing remains: neither healthy wiring nor any one fault " + (ticked.length ? "gives" : "reads") + " all of this. Take the readings again, supply off and network asleep; " + (ticked.length ? "a module may be silent for reasons of its own; " : "") + "or there are two faults, which whatif match looks for. What was typed for another vehicle has to be taken off first.";
    byId("remaining-said").textContent = text;
    sayFurther(left, parts, entries.map(x => x.reading));
    const most = 60;
    byId("remaining-table").tBodies[0].replaceChildren(...left.slice(0, most).map(f =>
      make("tr", {}, make("th", { scope: "row" }, make("button", { type: "button", class: "pick", "data-fault": f }, nameOf(f))), make("td", {}, partOf(f).name + (partOf(f).about ? ", " + partOf(f).about : "")))));
    byId("remaining-table").hidden = left.length === 0;
    byId("remaining-more").textContent = left.length > most ? "And " + (left.length - most) + " more. A further reading makes them fewer." : "";
    byId("file").value = fileText(entries, asked);
  }
  restore();
}

// sayFurther says which further reading tells the remaining faults apart best.
function sayFurther(left, parts, taken) {
  const out = byId("further");
  out.replaceChildren();
  if (parts === 1) {
    out.append(make("p", { class: "next" }, make("strong", {}, "Look at " + partOf(left[0]).name + "."), " All faults that remain are there."));
  }
  if (parts < 2) return;
  const best = furtherReading(left, data.readings.filter(r => !taken.includes(r)));
  if (!best) {
    out.append(make("p", { class: "next" }, "No reading on this page tells these apart; unplugged readings may. The plan for the wall has some; ", make("code", {}, "whatif next"), " weighs all."));
    return;
  }
  const r = best.reading, k = r.kindOf;
  const head = "Read next at " + placeText(r) + ": " + (data.networks.length > 1 ? data.networks[k.network] + ", " : "") + k.label + ".";
  let text = " ";
  if (best.groups.length > 1) {
    text += "It parts the " + left.length + " remaining faults into " + best.groups.length + " groups whose readings do not overlap:";
  } else {
    text += "It parts the " + left.length + " remaining faults into no groups that are certain, since what they may read overlaps. ";
  }
  const average = "If the fault is as shown, that reading leaves faults at " + best.parts.toFixed(1) + " of " + parts + " parts on average.";
  // A reading that leaves nearly all says little, however good it is beside others.
  const little = best.parts > 0.8 * parts ? " That is little: which modules are silent, or a connector that is unplugged (the plan for the wall has some), may say more." : "";
  out.append(make("p", { class: "next" }, make("strong", {}, head), text + (best.groups.length > 1 ? "" : average + little)));
  if (best.groups.length < 2) return;
  const most = 8;
  const lines = best.groups.slice(0, most).map(g => {
    const names = [...g.parts].map(p => data.parts[p].name);
    const where = names.length > 6 ? names.slice(0, 6).join(", ") + " and " + (names.length - 6) + " more parts" : names.join(", ");
    return make("li", {}, readsText(r, g) + ": " + count(g.faults, "fault", "faults") + " at " + where);
  });
  if (best.groups.length > most) lines.push(make("li", {}, "and " + count(best.groups.length - most, "group", "groups") + " more"));
  out.append(make("ul", {}, ...lines), make("p", {}, average + little));
}

// readsText says what a group may read.
function readsText(r, g) {
  const v = r.kindOf.volts;
  if (g.least === null) return "OL";
  return written(v, g.least) + (g.greatest === null ? " or more" : " to " + written(v, g.greatest));
}

// fileText writes a readings file.
function fileText(entries, asked) {
  const quoted = s => JSON.stringify(s); // as YAML has it too
  const lines = ["readings: typed into the page"];
  data.answers.forEach((a, scan) => {
    const did = letter => asked.filter(x => x.scan === scan && x.did === letter).map(x => quoted(a.modules[x.module])).join(", ");
    const lists = [["yes", did("y")], ["no", did("n")]].filter(([, list]) => list !== "").map(([key, list]) => ", " + key + ": [" + list + "]").join("");
    if (lists === "") return;
    if (!lines.includes("answered:")) lines.push("answered:");
    lines.push("  - {at: " + quoted(a.tool) + lists + "}");
  });
  if (entries.length > 0) lines.push("taken:");
  for (const { reading, value } of entries) {
    const between = reading.between || reading.kindOf.between;
    lines.push("  - {at: " + quoted(reading.at) + ", between: " + quoted(between) + ", " + (reading.kindOf.volts ? "volts: " : "ohms: ") + (value === null ? "OL" : Number(value.toPrecision(12))) + "}");
  }
  return lines.join("\n") + "\n";
}
