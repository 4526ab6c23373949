// A page from a disk may not start a worker, so search runs in a hidden frame that acts as one.
(function () {
  "use strict";
  if (window.location.protocol !== "file:") return;

  class FrameWorker extends EventTarget {
    constructor(address) {
      super();
      this.frame = document.createElement("iframe");
      this.frame.hidden = true;
      this.frame.title = "Search";
      document.body.append(this.frame);
      const inside = this.frame.contentWindow;
      inside.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      inside.importScripts = (...sources) => Promise.all(sources.map((s) => this.load(s)));
      this.ready = this.load(address);
    }

    load(address) {
      return new Promise((resolve, reject) => {
        const inside = this.frame.contentDocument;
        const script = inside.createElement("script");
        script.src = address;
        script.onload = resolve;
        script.onerror = () => reject(new Error(`cannot load ${address}`));
        inside.body.append(script);
      });
    }

    postMessage(data) {
      const send = () => this.frame.contentWindow.dispatchEvent(new MessageEvent("message", { data }));
      this.ready.then(send);
    }

    terminate() {
      this.frame.remove();
    }
  }

  window.Worker = FrameWorker;
})();
