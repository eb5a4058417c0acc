// reasons: how a reading comes about, healthy and with the chosen fault.

// unpackReasons reads the derivations, which are packed since they are long.
async function unpackReasons() {
  const bytes = Uint8Array.from(atob(JSON.parse(byId("reasons").textContent)), c => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return JSON.parse(await new Response(stream).text());
}

function startReasons() {
  const place = byId("why-place"), text = byId("why-text");
  let reasons, chosen; // chosen: the reading that the person asked for
  byId("why-controls").addEventListener("submit", e => e.preventDefault());
  place.addEventListener("change", () => {
    chosen = data.readings[place.value];
    show();
  });

  function piece(section) {
    const out = [];
    if (section.heading && (section.paragraphs || section.steps)) out.push(make("h4", {}, section.heading));
    for (const p of section.paragraphs ?? []) if (p) out.push(make("p", {}, p));
    if (section.steps) out.push(make("ol", {}, ...section.steps.map(s => make("li", {}, s))));
    if (section.rows) {
      const numeric = j => section.rows.every(r => /^[^a-z]*$/.test(r[j] ?? ""));
      const table = make("table", {}, make("caption", {}, section.heading ?? ""),
        make("thead", {}, make("tr", {}, ...section.header.map((h, j) => make("th", { scope: "col", class: numeric(j) ? "n" : "" }, h)))),
        make("tbody", {}, ...section.rows.map(r => make("tr", {}, ...r.map((c, j) => (j === 0 ? make("th", { scope: "row" }, c) : make("td", { class: numeric(j) ? "n" : "" }, c)))))));
      out.push(make("div", { class: "scroll", role: "region", tabindex: "0", "aria-label": section.heading ?? "" }, table));
    }
    return out;
  }

  // command is what derives a reading with the chosen fault; a shell's quotes around.
  function command(r) {
    const quoted = t => "'" + t.replaceAll("'", "'\\''") + "'";
    const read = r.at + " " + betweenOf(r) + (r.kindOf.volts ? ", volts" : "") + (r.kindOf.unplugged ? ", ohms, " + partAt(r) + " unplugged" : "");
    return "whatif explain " + byId("why").dataset.harness + " --read " + quoted(read) + " --fault " + quoted(nameOf(state.fault));
  }

  function show() {
    if (place.value === "") return;
    const index = Number(place.value), r = data.readings[index];
    if (!reasons) return;
    let sections = reasons.healthy[index], foreword;
    if (state.fault !== HEALTHY) {
      const faulty = reasons.faulty[index];
      if (faulty?.[state.fault]) sections = faulty[state.fault];
      else if (r.of[state.fault].value === r.healthy) foreword = "With " + nameOf(state.fault) + " it reads the same as in healthy wiring, and for the same reasons:";
      else {
        foreword = "With " + nameOf(state.fault) + " it reads " + written(r.kindOf.volts, r.of[state.fault].value) + ". The page has the derivation with a fault for the connectors that are reached first, and for the nearest that shows it. For this one: " + command(r) + ". In healthy wiring:";
      }
    }
    text.replaceChildren(...(foreword ? [make("p", {}, foreword)] : []), ...sections.flatMap(piece));
  }

  let told;
  whenChosen(() => {
    const list = readingsOf(state.kind).sort(nearest);
    const index = r => data.readings.indexOf(r);
    const shows = r => state.fault === HEALTHY || cellOf(r, state.fault).mark === OUTSIDE;
    // The same points, where a place has several; else the same place.
    const asked = chosen && (list.find(r => r.at === chosen.at && r.between === chosen.between) ?? list.find(r => r.at === chosen.at));
    const now = (asked && shows(asked) ? asked : list.find(shows)) ?? asked ?? list[0];
    options(place, list.map(r => [index(r), placeText(r) + (data.places[r.place].note ? ": " + data.places[r.place].note : "")]), index(now));
    const key = state.kind + "/" + state.fault;
    if (key !== told) {
      told = key;
      show();
    }
  });
  unpackReasons().then(got => {
    reasons = got;
    show();
  }, () => {
    // Older browsers lack the stream, or the format of it.
    text.textContent = "This browser cannot unpack the derivations. whatif explain prints them.";
  });
}
