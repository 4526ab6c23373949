// The theme's search dialog has no name of its own for a screen reader.
document.addEventListener("DOMContentLoaded", () => {
  document.querySelector(".md-search")?.setAttribute("aria-label", "Search");
  // Each block of commands or text to type has buttons in a landmark of its own, all without a name.
  const name = (place) => {
    place.querySelectorAll(".md-code__nav").forEach((nav) => nav.setAttribute("role", "none"));
  };
  name(document);
  new MutationObserver(() => name(document)).observe(document.body, { childList: true, subtree: true });
  // The switch between light and dark looks like a button, which the space bar presses.
  const grounds = [...document.querySelectorAll("input[name=__palette]")];
  grounds.forEach((ground, place) =>
    ground.addEventListener("keydown", (event) => {
      if (event.key !== " ") return;
      event.preventDefault();
      const other = grounds[(place + 1) % grounds.length];
      other.click();
      other.focus();
    }),
  );
});
