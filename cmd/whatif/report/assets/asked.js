// asked: what each module did when a scan tool asked it: answered, was silent, or was
// not asked.

// startAsked builds the controls and tells changed when one is used. It gives the list
// of { scan, module, did, set }, did y, n or empty.
function startAsked(changed) {
  const asked = [];
  byId("asked-fold").hidden = data.answers.length === 0;
  byId("asked").addEventListener("submit", e => e.preventDefault());
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
          changed();
        });
        line.append(make("label", {}, radio, text));
      }
      now.set("");
      asked.push(now);
      group.append(line);
    });
    byId("asked").append(group);
  });
  return asked;
}

// agrees tells whether the modules may have done what was ticked: at one value of the
// fault's range at least. A marginal module may do either.
function agrees(asked, fault) {
  return data.answers.every((a, scan) => {
    const ticked = asked.filter(x => x.scan === scan && x.did !== "");
    return waysOf(a, fault).some(way => ticked.every(x => way[x.module] === "m" || way[x.module] === x.did));
  });
}

// askedText says what was ticked.
function askedText(ticked) {
  const said = did => ticked.filter(x => x.did === did).map(x => data.answers[x.scan].modules[x.module]);
  const silent = said("n"), answer = said("y");
  const texts = [];
  if (answer.length) texts.push(answer.join(", ") + (answer.length === 1 ? " answers" : " answer"));
  if (silent.length) texts.push(silent.join(", ") + " silent");
  return texts.length ? "Scan tool: " + texts.join("; ") + "." : "";
}
