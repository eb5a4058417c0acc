// whatif: the table of all faults, to be sorted and filtered.

function startWhatif() {
  const table = byId("whatif"), kind = byId("table-kind"), words = byId("table-words"), differs = byId("table-differs"), more = byId("table-more");
  const most = 150;
  let sort = { column: -1, up: true }; // −1: the order of the harness
  let shown = most;
  options(kind, data.kinds.map((k, i) => [i, (data.networks.length > 1 ? data.networks[k.network] + ": " : "") + k.label]));
  byId("table-legend").textContent = legendText;
  byId("table-about").textContent = "A row for each fault, a column for each connector, the nearest first. The first rows are healthy wiring and its band. The heads of the columns sort; the name of a fault shows it above.";
  byId("table-controls").addEventListener("submit", e => e.preventDefault());

  const columns = () => readingsOf(Number(kind.value)).sort(nearest);

  function rows(list) {
    const wanted = words.value.toLowerCase().split(/\s+/).filter(Boolean);
    const out = [...data.faults.keys()].filter(f => {
      if (differs.checked && !list.some(r => r.of[f].mark !== WITHIN)) return false;
      const text = (data.faults[f].name + " " + data.faults[f].kind + " " + partOf(f).name + " " + partOf(f).about).toLowerCase();
      return wanted.every(w => text.includes(w));
    });
    if (sort.column >= 0) {
      const y = f => list[sort.column].of[f].value ?? Infinity;
      out.sort((a, b) => { // Infinity less Infinity is no number, so compare
        const x = y(a) < y(b) ? -1 : y(a) > y(b) ? 1 : 0;
        return sort.up ? x : -x;
      });
    }
    return out;
  }

  function head(list) {
    const names = list.map((r, i) => {
      const button = make("button", { type: "button" }, placeText(r));
      button.addEventListener("click", () => {
        if (sort.column !== i) sort = { column: i, up: true };
        else if (sort.up) sort = { column: i, up: false };
        else sort = { column: -1, up: true };
        show();
        table.tHead.rows[0].cells[i + 1].querySelector("button").focus();
      });
      const th = make("th", { scope: "col", class: "n" }, button);
      if (sort.column === i) th.setAttribute("aria-sort", sort.up ? "ascending" : "descending");
      return th;
    });
    const line = (text, of, cls) => make("tr", { class: cls }, make("th", { scope: "row" }, text), ...list.map(of));
    table.tHead.replaceChildren(make("tr", {}, make("th", { scope: "col" }, "fault"), ...names));
    return [
      line("healthy wiring", r => make("td", { class: "n" }, written(r.kindOf.volts, r.healthy)), "healthy"),
      line("healthy, least", r => make("td", { class: "n" }, written(r.kindOf.volts, r.worst[0])), "healthy"),
      line("healthy, greatest", r => make("td", { class: "n" }, written(r.kindOf.volts, r.worst[1])), "healthy"),
    ];
  }

  function show() {
    const list = columns();
    const found = rows(list);
    byId("whatif-caption").textContent = data.kinds[kind.value].label + ", " + data.networks[data.kinds[kind.value].network];
    table.tBodies[0].replaceChildren(...head(list), ...found.slice(0, shown).map(f =>
      make("tr", { class: f === state.fault ? "chosen" : "", "data-row": f },
        make("th", { scope: "row" }, pickButton(f, nameOf(f))),
        ...list.map(r => readingCell(r, r.of[f])))));
    more.hidden = found.length <= shown;
    more.textContent = "Show all " + found.length;
    const order = sort.column < 0 ? "in the order of the harness" : "sorted by " + placeText(list[sort.column]) + ", " + (sort.up ? "least first" : "greatest first");
    byId("table-said").textContent = count(found.length, "fault", "faults") + " of " + data.faults.length + (found.length > shown ? ", the first " + shown + " shown" : "") + ", " + order + ".";
  }

  kind.addEventListener("change", () => { sort = { column: -1, up: true }; shown = most; show(); });
  words.addEventListener("input", () => { shown = most; show(); });
  differs.addEventListener("change", () => { shown = most; show(); });
  more.addEventListener("click", () => {
    shown = Infinity;
    show();
    table.closest(".scroll").focus();
  });
  let before = state.kind;
  whenChosen(() => {
    if (state.kind !== before) {
      before = state.kind;
      kind.value = state.kind;
      sort = { column: -1, up: true };
      shown = most;
      show();
    }
    for (const row of table.querySelectorAll("tr[data-row]")) row.classList.toggle("chosen", Number(row.dataset.row) === state.fault);
  });
  show();
}
