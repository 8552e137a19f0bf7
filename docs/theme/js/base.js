// In place of the theme's own script, which needs its search and headings whose names begin with a letter.
document.querySelectorAll("table").forEach((table) => table.classList.add("table", "table-striped", "table-hover"));
document.querySelectorAll("li.disabled a").forEach((link) => link.addEventListener("click", (event) => event.preventDefault()));

function belowTheBar() {
  const offset = document.querySelector("body > .container").offsetTop;
  document.documentElement.style.scrollPaddingTop = `${offset}px`;
  document.querySelectorAll(".bs-sidebar.affix").forEach((bar) => { bar.style.top = `${offset}px`; });
}
belowTheBar();
window.addEventListener("resize", belowTheBar);
