// The methods are there to be pasted: one button takes all of their text along.
// Without scripts they can be marked and copied by hand.
(function () {
  "use strict";

  function text(part) {
    let title = part.previousElementSibling;
    while (title && !/^H\d$/.test(title.tagName)) title = title.previousElementSibling;
    const words = title ? title.textContent.replace("\u00b6", "").trim() : "";
    return `${words}\n\n${part.innerText.trim()}`;
  }

  function byHand(words) {
    const sheet = document.createElement("textarea");
    sheet.value = words;
    document.body.append(sheet);
    sheet.select();
    document.execCommand("copy");
    sheet.remove();
  }

  async function copy(words) {
    try {
      await navigator.clipboard.writeText(words);
    } catch {
      // a browser may keep its clipboard from pages on a disk
      byHand(words);
    }
  }

  function start() {
    const place = document.querySelector(".copy-here");
    if (!place) return;
    const button = document.createElement("button");
    const told = document.createElement("span");
    button.type = "button";
    button.className = "copy";
    button.textContent = "Copy the text";
    told.setAttribute("role", "status");
    button.addEventListener("click", async () => {
      await copy([...document.querySelectorAll(".paste")].map(text).join("\n\n"));
      told.textContent = " Copied.";
    });
    place.append(" ", button, told);
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();
