// connectors: what each connector reads with the chosen fault, beside healthy.

function startConnectors() {
  const body = byId("connectors").tBodies[0];
  byId("legend").textContent = legendText;
  whenChosen(() => {
    const list = readingsOf(state.kind).sort(nearest);
    byId("connectors-caption").textContent = data.kinds[state.kind].label + ", " + data.networks[state.network] + ": " + nameOf(state.fault);
    body.replaceChildren(...list.map(r => {
      const cell = cellOf(r, state.fault);
      const place = data.places[r.place];
      const name = make("th", { scope: "row" }, placeText(r), make("span", { class: "note" }, (place.note ? place.note + ", " : "") + place.minutes + " min"));
      const volts = r.kindOf.volts;
      const value = readingCell(r, cell);
      value.querySelector(".vh")?.remove(); // said in the next line
      value.append(make("span", { class: "lies" }, lies(r, cell) || (written(volts, cell.value) === written(volts, r.healthy) ? "the same" : "within the healthy band")));
      return make("tr", { "data-place": r.at }, name, make("td", { class: "n" }, written(volts, r.healthy), make("span", { class: "band" }, bandText(r, r.worst))), value);
    }));
    byId("said").textContent = said(list);
  });
}

// said is the chosen fault in a sentence or two.
function said(list) {
  if (state.fault === HEALTHY) return "Healthy wiring. Choose a part or a fault to see which readings it changes.";
  const outside = list.filter(r => cellOf(r, state.fault).mark === OUTSIDE);
  const p = partOf(state.fault);
  let text = nameOf(state.fault) + " (to repair: " + p.name + (p.about ? ", " + p.about : "") + "). ";
  const shown = data.faults[state.fault].shown;
  if (state.turned) text += "The reading was switched to " + kindInWords(data.kinds[state.kind]) + ", since " + state.turned + " shows this fault nowhere. ";
  if (shown) text += shown[0].toUpperCase() + shown.slice(1) + ". ";
  if (outside.length === 0) return text + "This reading shows it nowhere: at every connector it stays within the healthy band. Try another reading.";
  const first = outside[0], near = list[0];
  text += outside.length === list.length ? "Every connector shows it" : count(outside.length, "connector", "connectors") + " of " + list.length + (outside.length === 1 ? " shows it" : " show it");
  text += ", the nearest " + placeText(first) + ": " + written(first.kindOf.volts, cellOf(first, state.fault).value) + " in place of " + written(first.kindOf.volts, first.healthy) + ".";
  if (near !== first) text += " At " + placeText(near) + " it does not show: " + written(near.kindOf.volts, cellOf(near, state.fault).value) + ".";
  return text;
}
