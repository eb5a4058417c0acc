// dom: small helpers to build elements. Text is only ever set as text.

const byId = id => document.getElementById(id);

// make builds an element: attributes, then children that are elements or texts.
function make(tag, attributes = {}, ...children) {
  const e = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) e.setAttribute(name, "");
    else if (value !== false && value !== undefined) e.setAttribute(name, value);
  }
  e.append(...children);
  return e;
}

// pickButton shows a fault above.
function pickButton(fault, text) {
  return make("button", { type: "button", class: "pick", "data-fault": fault }, text);
}

function options(select, list, chosen) {
  select.replaceChildren(...list.map(([value, text]) => make("option", { value, selected: value === chosen }, text)));
}

// readingCell is a table cell with a value and its mark, in shape and in words.
function readingCell(reading, cell) {
  const volts = reading.kindOf.volts;
  const td = make("td", { class: "n" + ["", " unlikely", " outside"][cell.mark] }, written(volts, cell.value));
  if (cell.mark !== WITHIN) {
    td.append(make("span", { class: "glyph", "aria-hidden": "true" }, glyph(reading, cell)), make("span", { class: "vh" }, " " + lies(reading, cell)));
  }
  return td;
}

const bandText = (reading, limits) => written(reading.kindOf.volts, limits[0]) + " to " + written(reading.kindOf.volts, limits[1]);
const count = (n, one, many) => n + " " + (n === 1 ? one : many);
const legendText = "▲ above, ▼ below every healthy harness: the fault shows. △ ▽ fewer than one healthy harness in twenty reads so. No mark: within the healthy band.";
