// modules: which modules answer a scan tool with the chosen fault.

// waysOf is what the modules do with a fault, a letter for each: as it is shown, then
// at other values of its resistance.
const waysOf = (scan, fault) => (fault === HEALTHY ? [scan.healthy] : [scan.differs[fault] ?? scan.healthy, ...(scan.ranges[fault] ?? [])]);

// silentText says who is silent.
function silentText(scan, way) {
  const silent = scan.modules.filter((m, i) => way[i] === "n");
  if (silent.length === 0) return "All answer" + (way.includes("m") ? ", some only marginally" : "");
  return silent.length === scan.modules.length ? "None answers" : "Silent: " + silent.join(", ");
}

function startModules() {
  const words = { y: "answers", m: "marginal", n: "silent" };
  const classes = { y: "", m: "marginal", n: "no" };
  byId("who").hidden = data.answers.length === 0;
  whenChosen(() => {
    byId("answers").replaceChildren(...data.answers.flatMap(a => {
      const [now, ...others] = waysOf(a, state.fault);
      const summary = silentText(a, now);
      const value = state.fault !== HEALTHY && data.faults[state.fault].with;
      let at = "";
      if (value) {
        // What other values of the fault's resistance may do to the modules.
        const may = (did, not) => a.modules.filter((m, i) => now[i] !== did && others.some(o => o[i] === did) && (not === undefined || now[i] === not));
        const more = may("n"), fewer = may("y", "n");
        at = " That is at " + value + ". " + (others.length === 0 ? "At any other value of its range it is the same." : "At another value" +
          (more.length ? " " + more.join(", ") + " may be silent too" : "") + (more.length && fewer.length ? ", or" : "") + (fewer.length ? " " + fewer.join(", ") + " may answer" : "") + (more.length + fewer.length ? "" : " some may be marginal") + ".");
      }
      const list = make("ul", { class: "answer" }, ...a.modules.map((m, i) => make("li", { class: classes[now[i]] }, m + ": " + words[now[i]])));
      return [make("p", { class: "answer-said" }, "Scan tool at " + a.tool + ", supply on. " + summary + "." + at), list];
    }));
  });
}
