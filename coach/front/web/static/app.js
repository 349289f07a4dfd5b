// The page: turns taps and words into things to do, and shows what the coach answers.

import { Post, drop, isFragile, keep, recall, remember, waiting } from "/keep.js";
import { showLesson, showStanding } from "/lesson.js";
import { show, showTrips, showWaiting } from "/show.js";

const byId = (id) => document.getElementById(id);
const page = document.documentElement;
const THEME_COLOURS = { dim: "#0b0503", light: "#ffffff" };
const DOWN = "No connection. What you tell is kept here and sent when it is back.";
const DOWN_FRAGILE = "No connection, and this browser keeps nothing: leave this page open until it is back.";
const KEPT_OUT = "This browser is not let in. Open the link that the coach printed when it was started.";
const HIDDEN_LOOK_MS = 20000;

let state = recall("state");
let most = 40;
let stream = null;
let timer = 0;
let heard = new Set((state?.bells.ringing ?? []).map((each) => each.id));
let mayBeAsked = null; // the question that the text in the field was begun for

// --- state --------------------------------------------------------------------------------------

function apply(next, { lead = false } = {}) {
  if (state && next.made < state.made && state.made - next.made < 60) return;
  const before = state;
  state = next;
  remember("state", next);
  const isNew = !before || lastKey(before) !== lastKey(next);
  if (before && isNew && isVerdict(next)) {
    page.dataset.beside = "set"; // on a wide page the set stands beside what was advised for it
    mark();
  }
  show(next, page.dataset.theme);
  showLesson(next.lesson, page.dataset.theme);
  showWaiting(waiting(), inWords);
  if (lead && isNew) leadTo(next);
  if (isNew && next.concluded) keepAtHand(next);
  ring(next.bells.ringing);
}

function lastKey(of) {
  return of.log.findLast((each) => each.key.startsWith("t"))?.key ?? "";
}

function isVerdict(of) {
  const key = lastKey(of);
  return of.log.some((each) => each.key === key && each.lines.some((line) => line.kind === "action"));
}

/** Bring the newest row and the question behind it into view. */
function leadTo(next) {
  if (["clearing", "lesson"].includes(page.dataset.panel) || (page.dataset.panel !== "log" && innerWidth < 900)) return;
  const key = lastKey(next);
  const hasAnswer = next.log.some((each) => each.key === key && each.lines.length);
  const newest = hasAnswer ? document.querySelector(`[data-key="${key}"]`) : byId("asked");
  newest?.scrollIntoView({ block: "start" });
}

/** Have tonight's card and the pictures ready for when the connection is lost. */
function keepAtHand(next) {
  if (!navigator.serviceWorker?.controller) return;
  const theme = page.dataset.theme;
  const paths = ["/card", ...next.pictures.map((each) => `/picture/${each.kind}?theme=${theme}`)];
  setTimeout(() => paths.forEach((path) => fetch(path).catch(() => {})), 500);
}

async function refresh() {
  try {
    const response = await fetch(`/state?most=${most}`, { signal: AbortSignal.timeout(15000) });
    if (response.status === 401) {
      keptOut();
      return false;
    }
    if (!response.ok) throw new Error(String(response.status));
    up();
    apply(await response.json());
    return true;
  } catch {
    down(0);
    return false;
  }
}

function keptOut() {
  drop("state");
  state = null;
  say("link", KEPT_OUT);
}

// --- the connection -----------------------------------------------------------------------------

function say(id, text) {
  if (byId(id).textContent !== text) byId(id).textContent = text;
}

function up() {
  say("link", "");
}

function down(status) {
  if (status === 401) keptOut();
  else say("link", isFragile() ? DOWN_FRAGILE : DOWN);
  showWaiting(waiting(), inWords);
  if (document.activeElement === byId("field") && !byId("field").value) putKeysAway(state?.ask);
}

const post = new Post({
  key: () => state?.key ?? "",
  most: () => most,
  onStale: refresh,
  onUp: up,
  onDown: down,
  onAnswer: (answer, item) => {
    const before = state ? lastKey(state) : "";
    apply(answer.state, { lead: true });
    if (item.do === "answer" && lastKey(answer.state) !== before) go("log"); // a danger was told: the coach answered it
    if (item.do === "sign") showStanding();
    if (item.do === "say" && document.activeElement === byId("field")) putKeysAway(answer.state.ask);
    afterwards(answer.error?.say || answer.note, Boolean(answer.error), item);
  },
  onRefused: (why, item) => afterwards(why, true, item),
});

function afterwards(what, isRefused, item) {
  showWaiting(waiting(), inWords);
  const isText = isRefused && item.do === "say";
  const hasRoom = !byId("field").value;
  if (isText && hasRoom) byId("field").value = item.what;
  say("note", isText && !hasRoom ? `${what} You wrote: ${item.what}` : what);
  if (!isRefused && item.do === "command" && item.what === "forget") forgotten();
}

/** The keys on a phone's screen hide the answer; they stay only where something is to be typed again. */
function putKeysAway(ask) {
  const isTyped = ask && ["number", "time"].includes(ask.type);
  if (matchMedia("(pointer: coarse)").matches && !isTyped) byId("question").focus({ preventScroll: true });
}

function forgotten() {
  if ("caches" in window) caches.delete("coach-pages");
  drop("draft");
  go("log");
  say("note", "Forgotten: nothing of it is kept.");
}

function listen() {
  stream?.close();
  clearTimeout(timer);
  if (document.hidden) {
    timer = setTimeout(lookAgain, HIDDEN_LOOK_MS);
    return;
  }
  stream = new EventSource("/events");
  stream.addEventListener("here", () => refresh().then((isUp) => isUp && post.flush()));
  stream.onmessage = (event) => {
    up();
    // what this page did itself comes with its answer
    setTimeout(() => { if (!state || state.made < Number(event.data)) refresh(); }, 150);
  };
  stream.onerror = () => {
    if (stream.readyState !== EventSource.CLOSED) down(0);
    else refresh().finally(() => { timer = setTimeout(listen, 5000); }); // it was turned away: that says why
  };
}

/** A page that nobody looks at keeps no connection, for a browser has few; it looks now and then. */
async function lookAgain() {
  await refresh();
  listen();
}

document.addEventListener("visibilitychange", () => {
  if (!document.hidden) refresh();
  listen();
});
addEventListener("online", () => { listen(); post.flush(); });
addEventListener("offline", () => down(0));
addEventListener("storage", (event) => {
  if (event.key?.startsWith("coach:wait:")) showWaiting(waiting(), inWords);
});

// --- things to do -------------------------------------------------------------------------------

function act(what) {
  say("note", "");
  keep(what);
  showWaiting(waiting(), inWords);
  post.flush();
}

function inWords(item) {
  const buttons = { unknown: "Don't know", uncount: "Take back the last", why: "Why?", undo: "Back",
    clear: "Clear the water", summary: "Summary", new: "A new night", forget: "Forget everything" };
  if (item.do === "learn") return { more: "Another round", stop: "Stop", play: "Coach a boater", trips: "Your trips" }[item.what] ?? "Learn";
  if (["pick", "answer"].includes(item.do) && item.label) return item.label;
  if (item.do === "pick") return item.label ?? "";
  if (item.do === "count") return `${item.what} +1`;
  return buttons[item.do] ?? (item.do === "command" ? buttons[item.what] ?? item.what : item.what || item.do);
}

// --- lessons ------------------------------------------------------------------------------------

for (const button of document.querySelectorAll("[data-learn]")) {
  button.addEventListener("click", () => {
    go("lesson", { focus: true });
    if (!state?.lesson?.is_open) act({ do: "learn", what: button.dataset.learn });
  });
}

byId("lesson-more").addEventListener("click", () => act({ do: "learn", what: "more" }));
byId("lesson-boater").addEventListener("click", () => act({ do: "learn", what: "play" }));

byId("lesson-stop").addEventListener("click", () => {
  act({ do: "learn", what: "stop" });
  go("log", { focus: true });
});

for (const [id, what] of [["lesson-hint", "hint"], ["lesson-show", "?"]]) {
  byId(id).addEventListener("click", () => act({ do: "answer", what, about: state.lesson.token }));
}

byId("lesson-say").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = byId("lesson-field").value.trim();
  if (text) act({ do: "answer", what: text, about: state.lesson.token });
  else say("note", "Nothing is written yet.");
});

byId("learned").addEventListener("toggle", () => {
  if (byId("learned").open) showStanding();
});

function isOff(button) {
  return button.getAttribute("aria-disabled") === "true";
}

byId("say").addEventListener("submit", (event) => {
  event.preventDefault();
  const field = byId("field");
  const text = field.value.trim();
  if (!text) {
    say("note", "Nothing is written yet.");
    return;
  }
  field.value = "";
  drop("draft");
  act({ do: "say", what: text, about: mayBeAsked ?? state?.ask?.token ?? "" });
  mayBeAsked = null;
});

byId("field").addEventListener("input", (event) => {
  const text = event.target.value;
  if (text && mayBeAsked === null) mayBeAsked = state?.ask?.token ?? "";
  if (!text) mayBeAsked = null;
  remember("draft", text);
});

byId("field").addEventListener("keydown", (event) => {
  if (event.key === "Enter" && !event.shiftKey && !event.isComposing) {
    event.preventDefault();
    byId("say").requestSubmit();
  }
});

byId("letters").addEventListener("click", () => {
  byId("field").inputMode = "text";
  byId("letters").hidden = true;
  byId("field").focus();
});

for (const command of ["why", "undo", "summary"]) {
  byId(command).addEventListener("click", () => {
    if (command === "summary") go("log");
    act({ do: "command", what: command });
  });
}

byId("unknown").addEventListener("click", () => {
  if (isOff(byId("unknown"))) say("note", "No question is open.");
  else act({ do: "unknown", about: state.ask.token });
});

byId("uncount").addEventListener("click", () => {
  if (isOff(byId("uncount"))) say("note", "Nothing is counted that could be taken back.");
  else act({ do: "uncount" });
});

byId("units").addEventListener("click", () => act({ do: "command", what: state?.metric ? "us units" : "metric" }));

for (const form of document.querySelectorAll("form.tell")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    act({ do: form.dataset.do, what: form.querySelector("input").value });
  });
}

byId("here").addEventListener("click", () => {
  const fail = () => say("note", "This device does not tell where it is. Write a tide station instead.");
  if (!navigator.geolocation) fail();
  else {
    navigator.geolocation.getCurrentPosition(({ coords }) => {
      act({ do: "here", what: `${coords.latitude.toFixed(2)} ${coords.longitude.toFixed(2)}` });
    }, fail, { timeout: 20000 });
  }
});

async function sure(what, yes) {
  say("sure-what", what);
  byId("sure-yes").textContent = yes;
  const dialog = byId("sure");
  dialog.returnValue = "no";
  dialog.showModal();
  byId("sure-no").focus();
  await new Promise((done) => { dialog.addEventListener("close", done, { once: true }); });
  return dialog.returnValue === "yes";
}

byId("new").addEventListener("click", async () => {
  if (await sure("Begin afresh? What is known of tonight's set is let go; the log of trips stays.", "Begin afresh")) {
    go("log");
    act({ do: "command", what: "new" });
  }
});

byId("forget").addEventListener("click", async () => {
  const what = "Forget everything of this browser: the log, the counts, the bells, the trips? It cannot be undone.";
  if (await sure(what, "Forget it")) act({ do: "command", what: "forget" });
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const { go: where, pick, about, count, found, bell, kind, place, clear, lesson } = button.dataset;
  if (where) go(where, { focus: true });
  else if (pick) act({ do: "pick", what: pick, about, label: button.lastChild.textContent });
  else if (lesson) act({ do: "answer", what: lesson, about, label: button.lastChild.textContent });
  else if (count) act({ do: "count", what: count });
  else if (found) { go("log"); act({ do: "found", what: found }); }
  else if (bell) ringAnswered(bell, kind, place);
  else if (clear !== undefined || button.id === "clear") clearTheWater();
  else if (button.id === "cleared") go("log", { focus: true });
});

function ringAnswered(bell, kind, place) {
  if (kind === "silence") act({ do: "found", what: place === "1" ? "silence" : "off", about: bell });
  else if (kind === "look") act({ do: "helped", what: place, about: bell });
  else act({ do: "bell", what: kind, about: bell });
}

/** The list at once, from what is known here, connection or not; and into the log. */
function clearTheWater() {
  byId("panel-clearing").hidden = false;
  page.dataset.panel = "clearing";
  mark();
  byId("h-clearing").focus();
  scrollTo(0, 0);
  act({ do: "command", what: "clear" });
}

// --- parts of the page --------------------------------------------------------------------------

function go(where, { focus = false } = {}) {
  page.dataset.panel = where;
  remember("panel", where === "lesson" ? where : "");
  if (!["log", "lesson"].includes(where)) page.dataset.beside = where;
  byId("panel-clearing").hidden = true;
  mark();
  if (innerWidth < 900) scrollTo(0, where === "log" ? document.body.scrollHeight : 0);
  if (where === "log" && innerWidth < 900 && state) leadTo(state);
  if (focus) byId(`h-${where}`).focus({ preventScroll: true });
}

function mark() {
  const isWide = innerWidth >= 900;
  for (const button of document.querySelectorAll("nav button")) {
    const isHere = button.dataset.go === (isWide ? page.dataset.beside : page.dataset.panel);
    button.setAttribute("aria-current", String(isHere));
  }
}

addEventListener("resize", mark);

byId("earlier").addEventListener("click", () => {
  most = Math.min(most + 100, 2000);
  refresh();
});

byId("trips").addEventListener("toggle", async () => {
  if (!byId("trips").open) return;
  try {
    const response = await fetch("/trips", { signal: AbortSignal.timeout(15000) });
    showTrips((await response.json()).trips);
  } catch {
    say("note", "The trips need the connection.");
  }
});

function dress(theme) {
  page.dataset.theme = theme;
  document.querySelector("meta[name=theme-color]").content = THEME_COLOURS[theme];
  byId("theme").textContent = theme === "dim" ? "Light page, for daylight" : "Dark page, for the night";
  remember("theme", theme);
  if (state) {
    show(state, theme);
    showLesson(state.lesson, theme);
    showWaiting(waiting(), inWords);
  }
}

byId("theme").addEventListener("click", () => dress(page.dataset.theme === "dim" ? "light" : "dim"));

// --- bells --------------------------------------------------------------------------------------

let tones = null;

byId("sound").addEventListener("change", () => {
  remember("sound", byId("sound").checked);
  if (byId("sound").checked) tone();
});

function tone() {
  try {
    tones ??= new AudioContext();
    const [sound, volume] = [tones.createOscillator(), tones.createGain()];
    volume.gain.value = 0.2;
    sound.frequency.value = 520;
    sound.connect(volume).connect(tones.destination);
    sound.start();
    sound.stop(tones.currentTime + 0.6);
  } catch {
    say("note", "This browser sounds no tone.");
  }
}

function ring(ringing) {
  document.title = ringing.length ? "Ringing: lamp coach" : "Lamp coach";
  const isNew = ringing.some((each) => !heard.has(each.id));
  heard = new Set(ringing.map((each) => each.id));
  if (!isNew) return;
  navigator.vibrate?.([300, 150, 300]);
  if (byId("sound").checked) tone();
}

const head = document.querySelector("header");
new ResizeObserver(() => page.style.setProperty("--head", `${head.offsetHeight}px`)).observe(head);

// --- begin --------------------------------------------------------------------------------------

byId("field").value = recall("draft") ?? "";
byId("sound").checked = recall("sound") ?? false;
dress(recall("theme") === "light" ? "light" : "dim");
mark();
if (recall("panel") === "lesson") go("lesson");
if (state) leadTo(state);
else showWaiting(waiting(), inWords);
listen();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
