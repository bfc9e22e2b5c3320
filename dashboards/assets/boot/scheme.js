// Runs before anything is drawn, so that a dark page never flashes white. A file, since the policy lets no inline
// script run. The key is the component library's own.
(function () {
  let chosen = "auto";
  try { chosen = window.localStorage.getItem("mantine-color-scheme-value") || "auto"; } catch (error) { /* private window */ }
  const dark = chosen === "dark" || (chosen !== "light" && window.matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
})();
