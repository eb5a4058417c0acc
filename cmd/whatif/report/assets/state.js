// state: what is chosen, and who wants to know.

const state = { network: 0, kind: 0, part: -1, fault: HEALTHY, turned: "" }; // turned: what was shown before the page turned to a reading that shows the fault
const listeners = [];
const whenChosen = listener => listeners.push(listener);

function tell() {
  for (const listener of listeners) listener();
}

// choose changes what is chosen, and keeps it in order: a kind belongs to a network,
// a fault to a part.
function choose(change) {
  Object.assign(state, change, { turned: "" });
  if ("fault" in change && state.fault !== HEALTHY) {
    const part = data.faults[state.fault].part;
    if (state.part !== -1) state.part = part;
    if (!("network" in change) && !("kind" in change)) turnTo(state.fault);
  }
  if ("part" in change && !("fault" in change)) {
    const first = data.faults.findIndex(f => f.part === state.part);
    state.fault = state.part === -1 ? HEALTHY : first;
    if (state.fault !== HEALTHY) turnTo(state.fault);
  }
  if (data.kinds[state.kind].network !== state.network) {
    if ("kind" in change) state.network = data.kinds[state.kind].network;
    else state.kind = kindsOf(state.network)[0];
  }
  tell();
}

const kindInWords = kind => (data.networks.length > 1 ? data.networks[kind.network] + ", " : "") + kind.label;

// turnTo goes to a reading that shows the fault, where the one chosen does not: the
// first kind of the same network, else of the network that it shows on most.
function turnTo(fault) {
  if (shows(state.kind, fault) > 0) return;
  let best = state.kind, most = 0;
  data.kinds.forEach((kind, i) => {
    const n = shows(i, fault) + (kind.network === state.network ? 0.5 : 0);
    if (shows(i, fault) > 0 && (most === 0 || (kind.network !== data.kinds[best].network && n > most))) [best, most] = [i, n];
  });
  if (best === state.kind) return;
  state.turned = kindInWords(data.kinds[state.kind]);
  state.kind = best;
  state.network = data.kinds[best].network;
}
