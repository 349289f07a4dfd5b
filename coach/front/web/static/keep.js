// What waits to be sent. Each thing lies under a key of its own, so that several tabs never write over
// each other, and goes once the coach has answered under its id: it is done once, however often it is sent.

const PREFIX = "coach:wait:";
const AGE_LIMIT_S = 12 * 3600;
const WAIT_MS = 15000;
const inMemory = new Map();
let latest = 0;

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function stored(action, fallback) {
  try {
    return action(localStorage);
  } catch {
    return fallback; // a browser that keeps nothing: what waits lives as long as the page
  }
}

export function recall(name) {
  return stored((store) => JSON.parse(store.getItem(`coach:${name}`)), null);
}

export function remember(name, value) {
  stored((store) => store.setItem(`coach:${name}`, JSON.stringify(value)), null);
}

export function drop(name) {
  stored((store) => store.removeItem(`coach:${name}`), null);
}

/** Everything that waits, in the order in which it was done. */
export function waiting() {
  const found = new Map(inMemory);
  stored((store) => {
    for (let i = 0; i < store.length; i += 1) {
      const key = store.key(i);
      if (key.startsWith(PREFIX)) found.set(key, store.getItem(key));
    }
  }, null);
  const rows = [];
  for (const key of [...found.keys()].sort()) {
    try {
      rows.push({ key, ...JSON.parse(found.get(key)) });
    } catch {
      forget(key); // not ours
    }
  }
  return rows;
}

function forget(key) {
  inMemory.delete(key);
  stored((store) => store.removeItem(key), null);
}

/** Whether something waits that a browser without a memory would lose with the page. */
export function isFragile() {
  return inMemory.size > 0;
}

/** Keep one thing to do until it is done. */
export function keep(what) {
  latest = Math.max(latest + 1, Date.now());
  const id = newId();
  const key = `${PREFIX}${String(latest).padStart(15, "0")}:${id}`;
  const text = JSON.stringify({ id, at: Date.now(), ...what });
  const isKept = stored((store) => { store.setItem(key, text); return true; }, false);
  if (!isKept) inMemory.set(key, text);
}

/** Sends what waits, in order. `hooks`: key(), most(), onAnswer(answer, item), onRefused(say, item), onDown(status),
    onUp(), onStale() (fetch a fresh key). */
export class Post {
  constructor(hooks) {
    this.hooks = hooks;
    this.isBusy = false;
    this.isDueAgain = false;
    this.pauseMs = 1000;
    this.timer = 0;
  }

  async flush() {
    if (this.isBusy) {
      this.isDueAgain = true;
      return;
    }
    this.isBusy = true;
    clearTimeout(this.timer);
    try {
      do {
        this.isDueAgain = false;
        await this.alone(() => this.sendAll());
      } while (this.isDueAgain);
    } finally {
      this.isBusy = false;
    }
  }

  /** One tab at a time where the browser can see to that; elsewhere the ids do. */
  alone(work) {
    return navigator.locks ? navigator.locks.request("coach-post", work) : work();
  }

  async sendAll() {
    for (let row = waiting()[0]; row; row = waiting()[0]) {
      if (!(await this.isSent(row))) {
        this.timer = setTimeout(() => this.flush(), this.pauseMs);
        this.pauseMs = Math.min(this.pauseMs * 2, 15000);
        return;
      }
      this.pauseMs = 1000;
    }
  }

  async isSent(row, isAgain = false) {
    const { key: place, at, label, ...what } = row; // the label is for the page only
    const age = Math.min(Math.max((Date.now() - at) / 1000, 0), AGE_LIMIT_S);
    let response;
    let answer;
    try {
      response = await fetch(`/do?most=${this.hooks.most()}`, {
        method: "POST",
        headers: { "content-type": "application/json", "x-coach-key": this.hooks.key() },
        body: JSON.stringify({ ...what, age_s: age < 2 ? 0 : age }),
        signal: AbortSignal.timeout(WAIT_MS),
      });
      answer = await response.json();
    } catch {
      this.hooks.onDown(0);
      return false;
    }
    if (response.status === 403 && !isAgain && (await this.hooks.onStale())) return this.isSent(row, true);
    if (response.ok) {
      forget(place);
      this.hooks.onUp();
      this.hooks.onAnswer(answer, row);
      return true;
    }
    if ([400, 404, 413, 415, 422].includes(response.status)) {
      forget(place);
      this.hooks.onRefused(answer.error.say, row);
      return true;
    }
    this.hooks.onDown(response.status);
    return false;
  }
}
