// modules: which modules answer a scan tool with the chosen fault.

function startModules() {
  const words = { y: "answers", m: "marginal", n: "silent" };
  const classes = { y: "", m: "marginal", n: "no" };
  byId("who").hidden = data.answers.length === 0;
  whenChosen(() => {
    byId("answers").replaceChildren(...data.answers.flatMap(a => {
      const now = state.fault === HEALTHY ? a.healthy : a.differs[state.fault] ?? a.healthy;
      const silent = a.modules.filter((m, i) => now[i] === "n");
      const summary = silent.length === 0 ? "All answer" + (now.includes("m") ? ", some only marginally" : "") : silent.length === a.modules.length ? "None answers" : "Silent: " + silent.join(", ");
      const typical = state.fault !== HEALTHY && data.faults[state.fault].typical;
      let at = "";
      if (typical) {
        // What other values of the fault's resistance may do to the modules.
        const others = a.ranges[state.fault] ?? [];
        const may = (did, not) => a.modules.filter((m, i) => now[i] !== did && others.some(o => o[i] === did) && (not === undefined || now[i] === not));
        const more = may("n"), fewer = may("y", "n");
        at = " That is at " + typical + ". " + (others.length === 0 ? "At any other value of its range it is the same." : "At another value" +
          (more.length ? " " + more.join(", ") + " may be silent too" : "") + (more.length && fewer.length ? ", or" : "") + (fewer.length ? " " + fewer.join(", ") + " may answer" : "") + (more.length + fewer.length ? "" : " some may be marginal") + ".");
      }
      const list = make("ul", { class: "answer" }, ...a.modules.map((m, i) => make("li", { class: classes[now[i]] }, m + ": " + words[now[i]])));
      return [make("p", { class: "answer-said" }, "Scan tool at " + a.tool + ", supply on. " + summary + "." + at), list];
    }));
  });
}
