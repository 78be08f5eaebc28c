// Runs before the first paint (no module), so that a dim room never flashes bright.
(() => {
  let theme = null;
  try {
    theme = localStorage.getItem("doughsight-theme");
  } catch {
    // no storage: the room decides
  }
  const dim = matchMedia("(prefers-color-scheme: dark)");
  const apply = () => {
    document.documentElement.dataset.theme = theme ?? (dim.matches ? "dim" : "bright");
  };
  dim.addEventListener("change", apply);
  apply();
})();
