// picture: the harness as drawn, with the chosen reading at each connector, the
// chosen part marked, and every part to be chosen by mouse or keyboard.

function startPicture() {
  const svg = document.querySelector("#picture svg");
  const groups = [...svg.querySelectorAll("[data-part]")].filter(g => data.parts.some(p => p.name === g.dataset.part));
  const titles = new Map(groups.map(g => [g, g.querySelector("title").textContent]));
  const partIndex = g => data.parts.findIndex(p => p.name === g.dataset.part);
  const svgMake = (tag, attributes, text = "") => {
    const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
    e.textContent = text;
    return e;
  };

  if (groups.length > 0) byId("picture").removeAttribute("tabindex"); // the parts in it take the focus
  svg.setAttribute("role", "group");
  svg.removeAttribute("aria-labelledby");
  svg.setAttribute("aria-label", "Wiring, " + count(groups.length, "part", "parts"));
  svg.setAttribute("aria-describedby", "picture-help");
  for (const g of groups) {
    g.setAttribute("role", "button");
    g.setAttribute("tabindex", "-1");
  }
  groups[0]?.setAttribute("tabindex", "0"); // none where by the rates nothing can happen

  const pick = g => choose({ part: partIndex(g) });
  const toward = g => {
    for (const x of groups) x.setAttribute("tabindex", x === g ? "0" : "-1");
    g.focus();
  };
  // next is the part that lies nearest in a direction, sideways ways counting double.
  const next = (from, dx, dy) => {
    const centre = g => {
      const b = g.getBoundingClientRect();
      return [b.left + b.width / 2, b.top + b.height / 2];
    };
    const [x, y] = centre(from);
    let best, least = Infinity;
    for (const g of groups) {
      const [gx, gy] = centre(g);
      const along = (gx - x) * dx + (gy - y) * dy, across = Math.abs((gx - x) * dy) + Math.abs((gy - y) * dx);
      if (g !== from && along > 1 && along + 2 * across < least) [best, least] = [g, along + 2 * across];
    }
    return best;
  };
  svg.addEventListener("click", e => {
    const g = e.target.closest("[data-part]");
    if (groups.includes(g)) {
      toward(g);
      pick(g);
    }
  });
  svg.addEventListener("keydown", e => {
    const g = document.activeElement;
    if (!groups.includes(g)) return;
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    let to;
    if (e.key === "Enter" || e.key === " ") pick(g);
    else if (ways[e.key]) to = next(g, ...ways[e.key]);
    else if (e.key === "Home") to = groups[0];
    else if (e.key === "End") to = groups[groups.length - 1];
    else return;
    e.preventDefault();
    if (to) toward(to);
  });

  // mark draws a ring around a part, and a dark edge along a wire, under everything
  // else so that no label is hidden.
  const under = svg.querySelector(".bands");
  function mark(g, box) {
    const lines = [...g.querySelectorAll(".wire-line")], ring = { "data-ring": g.dataset.part };
    if (lines.length === 0) {
      under.append(svgMake("rect", { ...ring, class: "ring", x: box.x - 5, y: box.y - 5, width: box.width + 10, height: box.height + 10, rx: 6 }));
      return;
    }
    for (const cls of ["ring", "ring inner"]) {
      for (const line of lines) under.append(svgMake("path", { ...ring, class: cls, d: line.getAttribute("d") }));
    }
  }

  // A narrow screen shows a piece of the picture: the one with the chosen fault.
  let lookedAt = HEALTHY;
  function bringIn(g) {
    const box = byId("picture"), seen = box.getBoundingClientRect(), at = g.getBoundingClientRect();
    if (at.left < seen.left || at.right > seen.right) box.scrollLeft += (at.left + at.right - seen.left - seen.right) / 2;
  }

  whenChosen(() => {
    for (const old of svg.querySelectorAll(".ring, .tag")) old.remove();
    // A part with several readings of the kind shows the first: the harness half.
    const at = new Map(readingsOf(state.kind).reverse().map(r => [data.places[r.place].part, r]));
    const silent = new Set();
    if (state.fault !== HEALTHY) {
      for (const a of data.answers) [...waysOf(a, state.fault)[0]].forEach((h, i) => { if (h === "n") silent.add(a.modules[i]); });
    }
    const ringed = state.fault !== HEALTHY ? partOf(state.fault).name : null;
    for (const g of groups) {
      const r = at.get(g.dataset.part), note = g.querySelector("text.note.reading");
      let says = titles.get(g);
      g.classList.remove("outside", "unlikely", "silent");
      if (note) {
        const frame = note.previousElementSibling?.classList.contains("frame") ? note.previousElementSibling : null;
        const cell = r && cellOf(r, state.fault);
        note.textContent = r ? written(r.kindOf.volts, cell.value) + (cell.mark === WITHIN ? "" : " " + glyph(r, cell)) : "";
        if (frame) frame.style.visibility = r ? "visible" : "hidden";
        if (r && cell.mark !== WITHIN) g.classList.add(cell.mark === OUTSIDE ? "outside" : "unlikely");
        if (r) says += "; reads " + written(r.kindOf.volts, cell.value) + (cell.mark === WITHIN ? "" : ", " + lies(r, cell));
      }
      const box = g.getBBox();
      if (silent.has(g.dataset.part)) {
        g.classList.add("silent");
        says += "; silent";
        const tag = svgMake("g", { class: "tag", transform: `translate(${box.x + box.width - 12} ${box.y - 4})` });
        tag.append(svgMake("rect", { x: -17, y: -7, width: 34, height: 12, rx: 2 }), svgMake("text", { y: 2.5, "font-size": 9, "text-anchor": "middle" }, "silent"));
        g.append(tag);
      }
      const chosen = g.dataset.part === ringed;
      if (chosen) {
        mark(g, box);
        if (lookedAt !== state.fault) bringIn(g);
      }
      g.setAttribute("aria-pressed", String(chosen));
      g.setAttribute("aria-label", says + (chosen ? "; the chosen fault is here" : ""));
    }
    lookedAt = state.fault;
    // Labels that lie on the ring get an edge of paper, so that it hides none.
    const rings = [...svg.querySelectorAll(".ring")].map(r => r.getBoundingClientRect());
    for (const label of svg.querySelectorAll("text:not(.note)")) {
      const at = label.getBoundingClientRect();
      label.classList.toggle("on-ring", rings.some(r => at.left < r.right + 6 && at.right > r.left - 6 && at.top < r.bottom + 6 && at.bottom > r.top - 6));
    }
  });
}
