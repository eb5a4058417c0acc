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
      const list = make("ul", { class: "answer" }, ...a.modules.map((m, i) => make("li", { class: classes[now[i]] }, m + ": " + words[now[i]])));
      return [make("p", { class: "answer-said" }, "Scan tool at " + a.tool + ", supply on. " + summary + "."), list];
    }));
  });
}
