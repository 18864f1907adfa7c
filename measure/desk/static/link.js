// The connection to the server: one WebSocket. The newest drag wins, and a lost connection is reopened automatically.

// The page counts from the picture's edge, the core from the centre of its first pixel. This is the one place
// where one becomes the other.
const HALF = 0.5;

export function shifted(value, by, name = "") {
  if (Array.isArray(value)) {
    if (name.endsWith("_px") && value.length === 2 && typeof value[0] === "number")
      return [value[0] + by, value[1] + by];
    return value.map((one) => shifted(one, by, name));
  }
  if (value && typeof value === "object") {
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, shifted(one, by, key)]));
  }
  return value;
}

export class Link {
  constructor({ onState, onSheet, onTrouble, onLine }) {
    Object.assign(this, { onState, onSheet, onTrouble, onLine });
    this.seq = 0;
    this.waiting = new Map();
    this.wanted = null;
    this.busy = false;
    this.held = [];
    this.version = 0;
    this.delay = 250;
    this.open();
  }

  open() {
    this.socket = new WebSocket(`ws://${location.host}/ws`);
    this.socket.onopen = () => {
      this.delay = 250;
      this.onLine(true);
    };
    this.socket.onmessage = (event) => this.take(shifted(JSON.parse(event.data), HALF));
    this.socket.onclose = () => {
      const unanswered = this.waiting.size;
      for (const { resolve } of this.waiting.values()) resolve({ error: "The desk's program has stopped." });
      this.waiting.clear();
      this.held = [];
      this.busy = false;
      this.onLine(false, unanswered);
      setTimeout(() => this.open(), this.delay);
      this.delay = Math.min(this.delay * 2, 4000);
    };
  }

  take(message) {
    if (message.state) {
      this.version = message.state.version;
      this.onState(message.state);
      const ripe = this.held.filter((one) => one.version <= this.version);
      this.held = this.held.filter((one) => one.version > this.version);
      for (const one of ripe) this.settle(one);
    } else if ("sheet" in message) this.onSheet(message.sheet);
    else if ("trouble" in message) this.onTrouble(message.trouble);
    else if (message.version > this.version) this.held.push(message);
    else this.settle(message);
  }

  // An answer counts once the resulting state has arrived: the next nudge must start from it.
  settle(message) {
    const one = this.waiting.get(message.seq);
    this.waiting.delete(message.seq);
    one?.resolve(message);
  }

  // Send a request and get the answer; an answer with `error` holds a sentence for the user.
  ask(what) {
    if (this.socket.readyState !== WebSocket.OPEN)
      return Promise.resolve({ error: "The desk's program has stopped." });
    const seq = ++this.seq;
    this.socket.send(JSON.stringify({ seq, ...shifted(what, -HALF) }));
    return new Promise((resolve) => this.waiting.set(seq, { resolve }));
  }

  // For drags: one request in flight, the newest waits, those between are dropped.
  async follow(what, answered) {
    this.wanted = { what, answered };
    if (this.busy) return;
    this.busy = true;
    while (this.wanted) {
      const next = this.wanted;
      this.wanted = null;
      next.answered(await this.ask(next.what));
    }
    this.busy = false;
  }

  forgetFollow() {
    this.wanted = null;
  }
}
