// keep: what was typed stays while the tab is open. Where the browser lets a page
// from a file keep nothing, leaving it is asked about first.

const keepName = "typed: " + document.title + ", " + data.faults.length + " faults, " + location.pathname;

// keep stores a value that is JSON; null forgets it.
function keep(value) {
  try {
    if (value === null) sessionStorage.removeItem(keepName);
    else sessionStorage.setItem(keepName, JSON.stringify(value));
    window.removeEventListener("beforeunload", askFirst);
  } catch {
    if (value === null) window.removeEventListener("beforeunload", askFirst);
    else window.addEventListener("beforeunload", askFirst);
  }
}

function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(keepName));
  } catch {
    return null;
  }
}

function askFirst(e) {
  e.preventDefault();
}
