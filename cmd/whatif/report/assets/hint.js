// hint: a box that is wider than the screen says that it can be scrolled; one that does
// not scroll is no stop for the keyboard.

function startHints() {
  const hints = new Map(); // by box
  const stops = new WeakSet();
  const weigh = box => {
    if (!hints.has(box)) return; // it has gone
    const wide = box.scrollWidth > box.clientWidth + 1, tall = box.scrollHeight > box.clientHeight + 1;
    hints.get(box).hidden = !wide;
    if (stops.has(box)) box.tabIndex = wide || tall ? 0 : -1;
  };
  const sizes = new ResizeObserver(list => {
    for (const box of new Set(list.map(e => e.target.closest(".scroll")))) if (box) weigh(box);
  });
  const take = () => {
    for (const box of hints.keys()) if (!box.isConnected) hints.delete(box);
    for (const box of document.querySelectorAll(".scroll")) {
      if (hints.has(box)) continue;
      const hint = make("p", { class: "hint", hidden: true }, "↔ Wider than the screen: scroll it sideways.");
      hints.set(box, hint);
      box.before(hint);
      if (box.tabIndex === 0) stops.add(box);
      sizes.observe(box);
      for (const inner of box.children) sizes.observe(inner);
    }
  };
  take();
  new MutationObserver(take).observe(byId("why-text"), { childList: true });
}
