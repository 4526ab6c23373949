// A chart that picks one thing, and the table below it: each follows the other.
// Without scripts the table stands as it is, and the still picture shows the first pick.
(function () {
  "use strict";

  function buttons(figure) {
    const column = [...figure.querySelectorAll("th")].findIndex(
      (head) => head.textContent.trim() === figure.dataset.pick,
    );
    return [...figure.querySelectorAll("tbody tr")].map((row) => {
      const cell = row.children[column];
      const made = document.createElement("button");
      made.type = "button";
      made.className = "pick";
      made.textContent = cell.textContent;
      cell.replaceChildren(made);
      return made;
    });
  }

  function mark(made, name) {
    for (const button of made) {
      const picked = button.textContent === name;
      button.setAttribute("aria-pressed", picked);
      button.closest("tr").classList.toggle("is-picked", picked);
    }
  }

  document.addEventListener("hilum:drawn", ({ target: figure, detail: view }) => {
    if (!figure.dataset?.pick) return;
    const signal = `picked_${figure.dataset.pick}`;
    // a chart is drawn anew when the window's width changes, and keeps its pick
    figure.picks = figure.picks || buttons(figure);
    if (figure.picked) view.signal(signal, figure.picked).runAsync();
    const follow = (name) => {
      figure.picked = name;
      mark(figure.picks, name);
    };
    for (const button of figure.picks) {
      button.onclick = () => view.signal(signal, button.textContent).runAsync();
    }
    view.addSignalListener(signal, (_, name) => follow(name));
    follow(view.signal(signal));
  });
})();
