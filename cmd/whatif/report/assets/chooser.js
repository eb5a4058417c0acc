// chooser: the controls with which network, reading, part and fault are chosen.

function startChooser() {
  const networks = byId("networks"), kind = byId("kind"), part = byId("part"), fault = byId("fault");
  if (data.networks.length < 2) networks.hidden = true;
  data.networks.forEach((name, i) => {
    const none = kindsOf(i).length === 0; // joints alone, which no meter gets to
    const radio = make("input", { type: "radio", name: "network", value: i, disabled: none });
    radio.addEventListener("change", () => choose({ network: i }));
    networks.append(make("label", {}, radio, name + (none ? " (nothing of it can be reached)" : "")));
  });
  options(part, [[-1, "any"], ...data.parts.map((p, i) => [i, p.name + (p.about ? ": " + p.about : "")])]);
  kind.addEventListener("change", () => choose({ kind: Number(kind.value) }));
  part.addEventListener("change", () => choose({ part: Number(part.value) }));
  fault.addEventListener("change", () => choose({ fault: Number(fault.value) }));
  byId("chooser").addEventListener("submit", e => e.preventDefault());
  // Without scripts the names of faults are plain text.
  for (const name of document.querySelectorAll("span.names[data-fault]")) name.replaceWith(pickButton(name.dataset.fault, name.textContent));
  document.addEventListener("click", e => {
    const button = e.target.closest("button.pick[data-fault]");
    if (!button) return;
    choose({ part: -1, fault: Number(button.dataset.fault) });
    byId("look-title").focus();
    byId("look").scrollIntoView();
  });

  let listed;
  whenChosen(() => {
    networks.querySelectorAll("input").forEach((radio, i) => { radio.checked = i === state.network; });
    options(kind, kindsOf(state.network).map(i => [i, data.kinds[i].label]), state.kind);
    part.value = state.part;
    if (listed !== state.part) {
      listed = state.part;
      const list = data.faults.map((f, i) => [i, f.name]).filter(([i]) => state.part === -1 || data.faults[i].part === state.part);
      options(fault, [[HEALTHY, "none: healthy wiring"], ...list]);
    }
    fault.value = state.fault;
  });
}
