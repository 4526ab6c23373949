// The methods are there to be pasted: one button takes all of their text along. What is marked and copied by hand
// has its formulas as text as well: a browser would copy each of their symbols to a line of its own.
(function () {
  "use strict";

  function spelled(part) {
    for (const formula of part.querySelectorAll("math")) formula.replaceWith(formula.getAttribute("alttext"));
    // only what is laid out has its lines and paragraphs apart
    const sheet = document.createElement("div");
    sheet.style.cssText = "position:absolute;left:-99999px;width:60em";
    sheet.append(part);
    document.body.append(sheet);
    const words = sheet.innerText.trim();
    sheet.remove();
    return words;
  }

  function text(part) {
    let title = part.previousElementSibling;
    while (title && !/^H\d$/.test(title.tagName)) title = title.previousElementSibling;
    const words = title ? title.textContent.replace("\u00b6", "").trim() : "";
    return `${words}\n\n${spelled(part.cloneNode(true))}`;
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

  document.addEventListener("copy", (event) => {
    const marked = window.getSelection();
    if (!marked.rangeCount) return;
    const part = marked.getRangeAt(0).cloneContents();
    if (!part.querySelector("math")) return;
    event.clipboardData.setData("text/plain", spelled(part));
    event.preventDefault();
  });

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
