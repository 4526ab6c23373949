// The table of single seeds: filters, pages, and a link both ways with the chart above it.
// Without scripts the first rows stand on the page as they are.
(function () {
  "use strict";
  const PAGE = 50;
  const NAMES = { lot: "lot", treatment: "treatment", says: "what it says" };

  function element(tag, props, ...children) {
    const made = Object.assign(document.createElement(tag), props);
    made.append(...children);
    return made;
  }

  function start(place, seeds) {
    const body = place.querySelector("tbody");
    place.querySelector(".more")?.remove();
    // what is chosen stands in the address, so that it can be kept and sent
    const asked = new URLSearchParams(location.hash.slice(1));
    const chosen = { lot: "", treatment: "", says: "", words: "", key: "" };
    for (const name of Object.keys(chosen)) chosen[name] = asked.get(name) ?? "";
    let page = 0;
    let view;

    const told = element("p", { className: "about" });
    told.setAttribute("role", "status");
    const back = element("button", { type: "button", textContent: "← previous page" });
    const on = element("button", { type: "button", textContent: "next page →" });
    back.onclick = () => show(page - 1);
    on.onclick = () => show(page + 1);

    function choice(name) {
      const values = [...new Set(seeds.map((s) => s[name]))].filter(Boolean);
      const select = element("select", {}, element("option", { value: "", textContent: "all" }));
      for (const value of values) select.append(element("option", { value, textContent: value }));
      if (!values.includes(chosen[name])) chosen[name] = "";
      select.value = chosen[name];
      select.onchange = () => {
        chosen[name] = select.value;
        view?.signal(`only_${name}`, select.value).runAsync();
        pick("");
      };
      return element("label", {}, NAMES[name], select);
    }

    const search = element("input", { type: "search", value: chosen.words });
    search.oninput = () => {
      chosen.words = search.value.trim().toLowerCase();
      pick("");
    };
    const all = element("button", { type: "button", textContent: "all seeds", hidden: true });
    all.onclick = () => pick("");
    const bar = element("div", { className: "filters" }, ...Object.keys(NAMES).map(choice));
    bar.append(element("label", {}, "search", search), all, back, on);
    place.prepend(bar, told);

    const matching = () =>
      seeds.filter(
        (s) =>
          (!chosen.key || s.key === chosen.key) &&
          Object.keys(NAMES).every((name) => !chosen[name] || s[name] === chosen[name]) &&
          chosen.words.split(/\s+/).every((word) => s.words.includes(word)),
      );

    function mark(key) {
      view?.signal("marked", key).runAsync();
    }

    function row(seed) {
      const made = document.createElement("tr");
      made.innerHTML = seed.cells.map((cell) => `<td>${cell}</td>`).join(" ");
      for (const event of ["mouseenter", "focusin"]) made.addEventListener(event, () => mark(seed.key));
      for (const event of ["mouseleave", "focusout"]) made.addEventListener(event, () => mark(chosen.key));
      return made;
    }

    function keep() {
      const said = Object.entries(chosen).filter(([, value]) => value);
      history.replaceState(null, "", said.length ? `#${new URLSearchParams(said)}` : location.pathname);
    }

    function show(wanted) {
      const found = matching();
      const last = Math.max(0, Math.ceil(found.length / PAGE) - 1);
      page = Math.min(Math.max(wanted, 0), last);
      const part = found.slice(page * PAGE, (page + 1) * PAGE);
      body.replaceChildren(...part.map(row));
      back.disabled = page === 0;
      on.disabled = page === last;
      all.hidden = !chosen.key;
      told.textContent = found.length
        ? `${found.length} of ${seeds.length} seeds` + (last ? `, page ${page + 1} of ${last + 1}` : "")
        : "No seed is like that: choose less.";
    }

    function pick(key) {
      chosen.key = key;
      mark(key);
      keep();
      show(0);
    }

    document.addEventListener("hilum:drawn", ({ target, detail }) => {
      if (!target.querySelector || target.dataset.key !== "seeds-curves") return;
      view = detail;
      for (const name of Object.keys(NAMES)) view.signal(`only_${name}`, chosen[name]);
      view.signal("marked", chosen.key).runAsync();
      view.addSignalListener("picked", (_, value) => pick(value.key ? value.key[0] : ""));
    });
    show(0);
  }

  function begin() {
    const place = document.querySelector(".seeds");
    if (!place) return;
    window.hilumSeeds = (seeds) => start(place, seeds);
    document.head.append(element("script", { src: place.dataset.script }));
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", begin);
  else begin();
})();
