// A figure is a still picture; near the screen its live chart takes the picture's place.
// Without scripts, and on paper, the still stays.
(function () {
  "use strict";
  const LIBRARY = new URL("../../charts/vega.js", document.currentScript.src).href;
  const NARROW = 560;
  const AXIS = 60;
  const PAPER = { ink: "#1d201b", ground: "#ffffff" };
  const waiting = new Map();
  const specs = new Map();
  let library;

  // each chart's script calls this: a page from a disk may load scripts, but not fetch files
  window.hilumChart = (key, spec) => waiting.get(key)(spec);

  function load(address) {
    return new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = address;
      script.onload = resolve;
      script.onerror = () => reject(new Error(`cannot load ${address}`));
      document.head.append(script);
    });
  }

  function specification(figure) {
    const { key, script } = figure.dataset;
    if (!specs.has(key)) {
      const arrives = new Promise((resolve) => waiting.set(key, resolve));
      specs.set(key, load(script).then(() => arrives));
    }
    return specs.get(key);
  }

  function vega() {
    library = library || load(LIBRARY).then(() => window.hilumVega);
    return library;
  }

  function panel(spec, width) {
    if (spec.hconcat || spec.vconcat) return oneColumn(spec, width);
    return { ...spec, width: Math.min(spec.width, width - AXIS) };
  }

  function oneColumn(spec, width) {
    if (spec.hconcat) {
      const { hconcat, ...rest } = spec;
      return { ...rest, vconcat: hconcat.map((p) => panel({ ...p, width }, width)) };
    }
    if (spec.vconcat) return { ...spec, vconcat: spec.vconcat.map((p) => panel(p, width)) };
    if (spec.spec) return { ...spec, columns: 1, spec: panel({ ...spec.spec, width }, width) };
    const facet = { ...spec.encoding.facet, columns: 1 };
    const encoding = spec.encoding.facet ? { ...spec.encoding, facet } : spec.encoding;
    return { ...panel({ ...spec, width }, width), encoding };
  }

  function fit(spec, width) {
    const narrow = width < NARROW;
    const legend = { ...spec.config.legend, columns: narrow ? 1 : spec.config.legend.columns };
    const sized = { ...spec, config: { ...spec.config, legend } };
    if (spec.autosize) return { ...sized, width };
    return narrow ? oneColumn(sized, width) : sized;
  }

  async function draw(figure) {
    const region = figure.querySelector(".chart-view");
    const [spec, { vegaEmbed }] = await Promise.all([specification(figure), vega()]);
    // before the page has been laid out a figure has no width to fit
    while (!region.clientWidth) await new Promise(requestAnimationFrame);
    const live = document.createElement("div");
    live.className = "chart-live";
    region.append(live);
    try {
      const { view } = await vegaEmbed(live, fit(spec, region.clientWidth), {
        actions: false,
        defaultStyle: false,
        renderer: "svg",
        tooltip: { disableDefaultStyle: true },
      });
      figure.dispatchEvent(new CustomEvent("hilum:drawn", { detail: view, bubbles: true }));
    } catch (error) {
      live.remove();
      throw error;
    }
    // a mark without data has no name to be read aloud
    for (const mark of live.querySelectorAll("[role=graphics-symbol]:empty:not([aria-label])")) {
      mark.setAttribute("aria-hidden", "true");
    }
    for (const old of region.querySelectorAll(".chart-live")) if (old !== live) old.remove();
    figure.classList.add("is-live");
  }

  function save(name, address) {
    const link = document.createElement("a");
    link.href = address;
    link.download = name;
    link.click();
  }

  async function savePicture(figure) {
    const [spec, { vegaEmbed }] = await Promise.all([specification(figure), vega()]);
    await document.fonts.load("12px 'Hilum Sans'");
    // a canvas does not know the colour of the text around it
    const inked = JSON.stringify(spec).replaceAll('"currentColor"', JSON.stringify(PAPER.ink));
    const paper = { ...JSON.parse(inked), background: PAPER.ground };
    const { view } = await vegaEmbed(document.createElement("div"), paper, { actions: false });
    save(`${figure.dataset.key}.png`, await view.toImageURL("png", 2));
    view.finalize();
  }

  async function saveSpecification(figure) {
    const text = JSON.stringify(await specification(figure), null, 1);
    const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    save(`${figure.dataset.key}.vl.json`, address);
  }

  function button(figure, label, title, action) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = label;
    made.title = title;
    made.addEventListener("click", () => action(figure));
    figure.querySelector(".downloads").append(" · ", made);
  }

  function follow(figure) {
    let width = figure.clientWidth;
    new ResizeObserver(() => {
      if (figure.clientWidth === width || !figure.classList.contains("is-live")) return;
      width = figure.clientWidth;
      draw(figure);
    }).observe(figure);
  }

  const near = new IntersectionObserver(
    (entries) => {
      for (const { isIntersecting, target } of entries) {
        if (!isIntersecting) continue;
        near.unobserve(target);
        draw(target);
      }
    },
    { rootMargin: "600px" },
  );

  function start() {
    for (const figure of document.querySelectorAll("figure.chart")) {
      button(figure, "PNG", "The picture in pixels, on white", savePicture);
      button(figure, "Chart", "The chart's specification, for Vega-Lite", saveSpecification);
      follow(figure);
      near.observe(figure);
    }
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();
