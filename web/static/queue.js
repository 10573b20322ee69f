// The queue of readings: made and kept on this device first, sent when the
// network allows. It knows ids, IndexedDB and sending; it knows no page.

// uuid7 makes a UUIDv7 (RFC 9562): 48 bits of time, the rest random. There is
// no crypto.randomUUID on plain HTTP, getRandomValues is there.
export function uuid7(now = Date.now()) {
  const b = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i++) b[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  b[6] = (b[6] & 0x0f) | 0x70;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

const atOnce = 50; // readings in one batch
const longestWait = 60_000;

const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

// Queue holds readings as {id, post, entry}: post is the address of the ticket
// they belong to. listener hears of every change: {kind, ...}, kind being
// "waiting" (count), "receipt" (item, receipt), "signed-out", "refused" (text) or
// "away" (the network is).
export class Queue {
  constructor(listener, name = "ohmstead-bench") {
    this.listener = listener;
    this.name = name;
    this.tries = 0;
    this.sending = null;
  }

  async open() {
    const request = indexedDB.open(this.name, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("readings", { keyPath: "id" });
      request.result.createObjectStore("counts");
    };
    this.db = await done(request);
    addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.send());
    return this;
  }

  // add keeps a reading before anything else happens to it. The entry gets its
  // number on this device.
  async add(post, entry) {
    const t = this.db.transaction(["readings", "counts"], "readwrite");
    const seq = ((await done(t.objectStore("counts").get("seq"))) ?? 0) + 1;
    t.objectStore("counts").put(seq, "seq");
    const item = { id: entry.id, post, entry: { ...entry, seq } };
    t.objectStore("readings").put(item);
    await new Promise((resolve, reject) => {
      t.oncomplete = resolve;
      t.onabort = t.onerror = () => reject(t.error);
    });
    await this.count();
    return item;
  }

  // all gives what waits, oldest first: a UUIDv7 sorts by its time.
  async all() {
    return done(this.db.transaction("readings").objectStore("readings").getAll());
  }

  async count() {
    const waiting = (await this.all()).length;
    this.listener({ kind: "waiting", count: waiting });
    return waiting;
  }

  // send empties the queue, one sender at a time. What fails stays and is tried
  // again, less and less often while the network is away.
  send() {
    clearTimeout(this.timer);
    this.sending ??= this.drain().finally(() => (this.sending = null));
    return this.sending;
  }

  async drain() {
    for (;;) {
      const waiting = await this.all();
      if (waiting.length === 0) {
        this.tries = 0;
        return;
      }
      const batch = waiting.filter((item) => item.post === waiting[0].post).slice(0, atOnce);
      if (!(await this.deliver(batch))) return;
    }
  }

  // deliver sends one batch; it tells whether to go on.
  async deliver(batch) {
    let answer;
    try {
      answer = await fetch(batch[0].post, {
        method: "POST",
        headers: { "Content-Type": "application/json", Accept: "application/json" },
        body: JSON.stringify({ readings: batch.map((item) => item.entry) }),
        redirect: "error",
      });
    } catch {
      return this.later("away");
    }
    if (answer.status === 401) {
      this.listener({ kind: "signed-out" });
      return false;
    }
    if (!answer.ok) {
      const text = await answer.json().then((p) => p.detail, () => "");
      if (answer.status >= 500) return this.later("away");
      this.listener({ kind: "refused", text });
      return false;
    }
    const { receipts } = await answer.json();
    await this.settle(batch, receipts);
    return true;
  }

  // settle forgets what the shop has: stored, known already, or kept.
  async settle(batch, receipts) {
    const t = this.db.transaction("readings", "readwrite");
    for (const receipt of receipts) t.objectStore("readings").delete(receipt.id);
    await new Promise((resolve, reject) => {
      t.oncomplete = resolve;
      t.onabort = t.onerror = () => reject(t.error);
    });
    this.tries = 0;
    for (const receipt of receipts) {
      this.listener({ kind: "receipt", item: batch.find((item) => item.id === receipt.id), receipt });
    }
    await this.count();
  }

  later(kind) {
    const wait = Math.min(longestWait, 2000 * 2 ** this.tries++);
    this.timer = setTimeout(() => this.send(), wait);
    this.listener({ kind, wait });
    return false;
  }
}
