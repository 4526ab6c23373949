// The theme's search dialog has no name of its own for a screen reader.
document.addEventListener("DOMContentLoaded", () => {
  document.querySelector(".md-search")?.setAttribute("aria-label", "Search");
});
