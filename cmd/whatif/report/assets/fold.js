// fold: what is long is folded on a narrow screen: plans, and who answered. Paper has
// it open.

function startFold() {
  const narrow = matchMedia("(max-width: 40rem)");
  const folded = [...document.querySelectorAll("details.fold")];
  const set = open => {
    for (const d of folded) d.open = open;
  };
  set(!narrow.matches);
  narrow.addEventListener("change", () => set(!narrow.matches));
  let before;
  addEventListener("beforeprint", () => {
    before = folded.map(d => d.open);
    set(true);
  });
  addEventListener("afterprint", () => folded.forEach((d, i) => { d.open = before?.[i] ?? d.open; }));
}
