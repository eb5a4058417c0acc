// hint: a box that is wider than the screen says that it can be scrolled; one that is
// not is no stop for the keyboard.

function startHints() {
  const seen = new WeakSet();
  const weigh = box => {
    const wide = box.scrollWidth > box.clientWidth + 1, tall = box.scrollHeight > box.clientHeight + 1;
    box.classList.toggle("wide", wide);
    if (box.hasAttribute("data-stop")) box.tabIndex = wide || tall ? 0 : -1;
  };
  const sizes = new ResizeObserver(list => {
    for (const e of list) {
      const box = e.target.closest(".scroll");
      if (box) weigh(box);
    }
  });
  const take = () => {
    for (const box of document.querySelectorAll(".scroll")) {
      if (seen.has(box)) continue;
      seen.add(box);
      if (box.tabIndex === 0) box.setAttribute("data-stop", "");
      sizes.observe(box);
      for (const inner of box.children) sizes.observe(inner);
    }
  };
  take();
  new MutationObserver(take).observe(byId("why-text"), { childList: true, subtree: true });
}
