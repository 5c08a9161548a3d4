// Lets the search run where the pages are opened as files: a browser starts no worker from a file, so
// the worker's script runs in a hidden frame instead.
if (location.protocol === "file:") {
  window.IFrameWorker = window.Worker = class extends EventTarget {
    constructor(url) {
      super()
      const frame = document.createElement("iframe")
      frame.hidden = true
      document.body.append(frame)
      this.inside = frame.contentWindow
      this.inside.postMessage = data =>
        this.dispatchEvent(new MessageEvent("message", { data }))
      const script = frame.contentDocument.createElement("script")
      script.src = new URL(url, location)
      this.ready = new Promise(resolve => { script.onload = resolve })
      frame.contentDocument.body.append(script)
    }
    postMessage(data) {
      this.ready.then(() => this.inside.dispatchEvent(new MessageEvent("message", { data })))
    }
  }
}
