// Light, dark or as the system says; kept in a cookie so that the server draws the right one at once.
const YEAR = 60 * 60 * 24 * 365;
const root = document.documentElement;
const systemIsDark = () => matchMedia("(prefers-color-scheme: dark)").matches;

function shownTheme() {
  return root.dataset.theme || (systemIsDark() ? "dark" : "light");
}

function chooseTheme(theme) {
  root.dataset.theme = theme;
  document.cookie = `theme=${theme}; path=/; max-age=${YEAR}; samesite=lax`;
  document.querySelectorAll("[data-theme-switch]").forEach(describe);
}

function describe(button) {
  const other = shownTheme() === "dark" ? "light" : "dark";
  button.hidden = false;
  button.setAttribute("aria-label", other === "dark" ? "Change to dark" : "Change to light");
}

document.querySelectorAll("[data-theme-switch]").forEach(describe);
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-theme-switch]")) chooseTheme(shownTheme() === "dark" ? "light" : "dark");
});
