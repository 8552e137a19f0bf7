// In place of the theme's own script, which needs its colouring of code.
const dark = window.matchMedia("(prefers-color-scheme: dark)");
const choices = document.querySelectorAll("[data-bs-theme-value]");

function kept() {
  try { return localStorage.getItem("colours") || "auto"; } catch { return "auto"; } // a page from disk may keep nothing
}

function show(choice) {
  const mode = choice === "auto" ? (dark.matches ? "dark" : "light") : choice;
  document.documentElement.setAttribute("data-bs-theme", mode);
  choices.forEach((one) => {
    const chosen = one.getAttribute("data-bs-theme-value") === choice;
    one.setAttribute("aria-pressed", String(chosen));
    one.lastElementChild.classList.toggle("d-none", !chosen);
    if (chosen) document.getElementById("theme-menu").firstElementChild.className = one.firstElementChild.className;
  });
}

choices.forEach((one) => one.addEventListener("click", () => {
  const choice = one.getAttribute("data-bs-theme-value");
  try { localStorage.setItem("colours", choice); } catch { /* shown all the same */ }
  show(choice);
}));
dark.addEventListener("change", () => show(kept()));
show(kept());
