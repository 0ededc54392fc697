// <live-part stream="/sites/x/live" name="supply">: content made by the server, replaced whenever
// the stream of the page sends a newer one. One stream serves all parts of a page. Without this
// module the page still shows what was true when it was loaded.

const streams = new Map();

function follow(address) {
  let stream = streams.get(address);
  if (!stream) {
    stream = { source: new EventSource(address), parts: new Set() };
    stream.source.addEventListener("error", () => stream.parts.forEach((part) => part.silent()));
    // What has come to its end is not asked for again.
    stream.source.addEventListener("over", () => stream.source.close());
    streams.set(address, stream);
  }
  return stream;
}

class LivePart extends HTMLElement {
  connectedCallback() {
    this.stream = follow(this.getAttribute("stream"));
    this.stream.parts.add(this);
    this.listener = (event) => this.show(event.data);
    this.stream.source.addEventListener(this.getAttribute("name"), this.listener);
  }

  disconnectedCallback() {
    this.stream.parts.delete(this);
    this.stream.source.removeEventListener(this.getAttribute("name"), this.listener);
  }

  show(html) {
    this.classList.remove("stale");
    // A reader in the middle of a part keeps the place: only changed parts are replaced.
    if (html !== this.last) this.innerHTML = this.last = html;
  }

  silent() {
    this.classList.add("stale");
  }
}

customElements.define("live-part", LivePart);
