// fold: plans are long, so that a narrow screen has them folded. Paper has them open.

function startFold() {
  const narrow = matchMedia("(max-width: 40rem)");
  const plans = [...document.querySelectorAll("details.fold")];
  const set = open => {
    for (const d of plans) d.open = open;
  };
  set(!narrow.matches);
  narrow.addEventListener("change", () => set(!narrow.matches));
  let before;
  addEventListener("beforeprint", () => {
    before = plans.map(d => d.open);
    set(true);
  });
  addEventListener("afterprint", () => plans.forEach((d, i) => { d.open = before?.[i] ?? d.open; }));
}
