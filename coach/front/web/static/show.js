// Shows a state of the coach. Only text is ever put into the page, never markup.

const byId = (id) => document.getElementById(id);

/** An element with properties, then children or texts. */
export function make(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (name.includes("-") || name === "role") made.setAttribute(name, value);
    else made[name] = value;
  }
  made.append(...children);
  return made;
}

function fill(id, children) {
  byId(id).replaceChildren(...children);
}

// --- the log ------------------------------------------------------------------------------------

function lineGroups(lines) {
  const groups = [];
  for (const line of lines) {
    const last = groups[groups.length - 1];
    const isList = ["item", "step", "reason"].includes(line.kind);
    if (isList && last && last.kind === line.kind) last.lines.push(line.say);
    else groups.push({ kind: line.kind, lines: [line.say] });
  }
  return groups;
}

function group(each) {
  const items = () => each.lines.map((say) => make("li", {}, say.replace(/^\d+\. /, "")));
  if (each.kind === "step") return make("ol", {}, ...items());
  if (each.kind === "item") return make("ul", {}, ...items());
  if (each.kind === "reason") {
    const summary = make("summary", {}, `Reasons: ${each.lines.length}`);
    return make("details", {}, summary, make("ul", {}, ...items()));
  }
  const looks = { bell: "bellsaid" };
  return make("p", { className: looks[each.kind] ?? each.kind }, each.lines[0]);
}

function row(each) {
  const time = each.until && each.until !== each.clock ? `${each.clock} to ${each.until}` : each.clock;
  const said = make("div", {});
  if (each.asked) said.append(make("p", { className: "askedwas" }, each.asked));
  if (each.told) said.append(make("p", { className: "told" }, each.told));
  said.append(...lineGroups(each.lines).map(group));
  const isVerdict = each.lines.some((line) => line.kind === "action");
  if (isVerdict) {
    said.append(make("button", { type: "button", className: "button see", "data-go": "set" }, "See the set drawn"));
  }
  const made = make("div", { className: "row" }, make("time", {}, time), said);
  made.dataset.key = each.key;
  made.dataset.whole = JSON.stringify(each);
  return made;
}

/** Bring the log up to date; rows that are the same stay as they are, so that nothing is read out twice.
    What was there before the page, or is called up from earlier, is not read out at all. */
function showLog(rows) {
  const log = byId("log");
  const first = log.querySelector(".row")?.dataset.key;
  const isOld = first === undefined || (rows.length > 0 && rows[0].key !== first);
  log.setAttribute("aria-live", isOld && rows.length > 1 ? "off" : "polite");
  const held = new Map([...log.children].map((child) => [child.dataset.key, child]));
  const wanted = [];
  let day = "";
  for (const each of rows) {
    if (each.day !== day) {
      day = each.day;
      const key = `day ${day}`;
      const kept = held.get(key) ?? make("p", { className: "day" }, day);
      kept.dataset.key = key;
      wanted.push(kept);
    }
    const kept = held.get(each.key);
    wanted.push(kept && kept.dataset.whole === JSON.stringify(each) ? kept : row(each));
  }
  const stay = new Set(wanted);
  for (const child of [...log.children]) if (!stay.has(child)) child.remove();
  wanted.forEach((child, place) => {
    if (log.children[place] !== child) log.insertBefore(child, log.children[place] ?? null);
  });
}

/** The sums on the buttons, with the taps that still wait: a tap must be seen to be taken. */
function showPending(rows) {
  for (const button of byId("sides").children) {
    const taps = rows.filter((each) => each.do === "count" && each.what === button.dataset.count).length;
    const sum = button.lastChild;
    sum.textContent = taps ? `${sum.dataset.sum} + ${taps}` : sum.dataset.sum;
  }
}

/** What waits for a connection. */
export function showWaiting(rows, labels) {
  showPending(rows);
  fill("waiting", rows.map((each) => make(
    "div", { className: "row" }, make("span", {}, "…"), make("div", {}, make("p", { className: "told" }, labels(each)))
  )));
}

// --- the question -------------------------------------------------------------------------------

const NOTHING_ASKED = "Nothing is asked. Tell what you see, what you catch, or what worries you.";

function showQuestion(ask) {
  const question = byId("question");
  const text = ask ? ask.text : NOTHING_ASKED;
  if (question.textContent !== text) question.textContent = text;
  showAnswers(ask);
  byId("unknown").setAttribute("aria-disabled", String(!ask));
  const isNumber = ask?.type === "number";
  byId("letters").hidden = !isNumber;
  byId("field").inputMode = isNumber ? "decimal" : "text";
}

/** The answers; those that stay are left alone, so that nobody's focus is taken. */
function showAnswers(ask) {
  const answers = byId("answers");
  const key = JSON.stringify([ask?.token, ask?.answers]);
  if (answers.dataset.key === key) return;
  const hadFocus = answers.contains(document.activeElement);
  answers.dataset.key = key;
  fill("answers", (ask?.answers ?? []).map((label, place) => make(
    "button", { type: "button", "data-pick": String(place + 1), "data-about": ask.token },
    make("span", { className: "digit", "aria-hidden": "true" }, String(place + 1)), make("span", {}, label),
  )));
  if (hadFocus) byId("question").focus({ preventScroll: true });
}

// --- beside the talk ----------------------------------------------------------------------------

const TITLES = { side: "From the side", plan: "From above", tide: "The tide", counts: "The counts" };

function showPictures(pictures, theme, made) {
  const sections = pictures.map((each) => {
    const version = `${each.words.join(" ").length}-${Math.floor(made / 60)}`;
    const image = make("img", {
      src: `/picture/${each.kind}?theme=${theme}&n=${version}`,
      alt: `${TITLES[each.kind]}, drawn. The same stands in words below.`,
      loading: "lazy",
    });
    const words = make("ul", {}, ...each.words.map((say) => make("li", {}, say)));
    return make("figure", {}, make("h3", { className: "apart" }, TITLES[each.kind]), image, make("figcaption", {}, words));
  });
  const key = JSON.stringify([pictures, theme]);
  if (byId("pictures").dataset.key === key) return;
  byId("pictures").dataset.key = key;
  fill("pictures", sections);
}

function showCounts(counts) {
  const held = byId("sides").children;
  const isSame = held.length === counts.sides.length;
  if (!isSame) {
    fill("sides", counts.sides.map((each) => make(
      "button", { type: "button", "data-count": each.side }, make("span", {}), make("span", { className: "sum" }),
    )));
  }
  counts.sides.forEach((each, place) => {
    const [name, sum] = byId("sides").children[place].children;
    name.textContent = `${each.side === "deep" ? "Jump" : each.side === "bow" ? "Bow" : "Stern"} +1`;
    sum.dataset.sum = each.sum;
  });
  showPending([]);
  const tally = counts.said ? `Tonight: ${counts.said}.` : "Nothing is counted yet tonight.";
  if (byId("tally").textContent !== tally) byId("tally").textContent = tally;
  byId("unlike").textContent = counts.note;
  byId("uncount").setAttribute("aria-disabled", String(!counts.can_take_back));
  const key = JSON.stringify(counts.found);
  if (byId("found").dataset.key === key) return;
  byId("found").dataset.key = key;
  fill("found", counts.found.map((each) => {
    const why = each.leads ? [make("button", { type: "button", "data-found": each.kind }, "Find out why")] : [];
    return make("div", { className: "found" }, make("p", {}, each.say), ...why);
  }));
}

function showBells(bells) {
  const none = make("li", {}, make("span", {}, "–"), make(
    "span", {}, "Nothing is set to ring. Tell tide, depth and lamps, and the bells set themselves."));
  const rows = bells.waiting.map((each) => make("li", {}, make("time", {}, each.clock), make("span", {}, each.say)));
  fill("bells", rows.length ? rows : [none]);
  const key = JSON.stringify(bells.ringing);
  if (byId("ringing").dataset.key !== key) {
    byId("ringing").dataset.key = key;
    const hadFocus = byId("ringing").contains(document.activeElement);
    fill("ringing", bells.ringing.map((each) => ringing(each, bells.later)));
    fill("rings", bells.ringing.slice(-1).map((each) => make(
      "button", { type: "button", "data-go": "bells" }, `Ringing, ${each.clock}: ${each.say}`)));
    if (hadFocus) byId("h-bells").focus({ preventScroll: true });
  }
  const tab = document.querySelector("nav [data-go='bells']");
  tab.replaceChildren("Bells", ...(bells.ringing.length ? [make("span", { className: "mark" }, "ringing")] : []));
}

function ringing(each, later) {
  const about = String(each.id);
  const answers = each.answers.map((label, place) => make(
    "button", { type: "button", "data-bell": about, "data-kind": each.kind, "data-place": String(place + 1) }, label));
  const clear = each.kind === "leave"
    ? [make("button", { type: "button", "data-clear": "" }, "Clear the water")] : [];
  const seen = each.kind === "silence" ? [] : [make("div", { className: "two" },
    make("button", { type: "button", "data-bell": about, "data-kind": "done" }, "Seen to"),
    make("button", { type: "button", "data-bell": about, "data-kind": "later" }, later))];
  return make("div", { className: "bell" }, make("p", {}, `${each.clock}  ${each.say}`), ...answers, ...clear, ...seen);
}

function showClearing(clearing) {
  fill("clearing-steps", clearing.steps.map((say) => make("li", {}, say)));
  byId("clearing-total").textContent = clearing.total;
}

export function showTrips(trips) {
  const rows = trips.map((each) => make("details", { className: "trip" },
    make("summary", {}, `Trip ${each.title}`), make("ul", {}, ...each.lines.map((say) => make("li", {}, say)))));
  fill("trip-list", rows.length ? rows : [make("p", {}, "No trip is in the log yet.")]);
}

/** Show a whole state. */
export function show(state, theme) {
  byId("welcome").textContent = state.welcome;
  byId("welcome").hidden = !state.welcome;
  showLog(state.log);
  byId("earlier").hidden = !state.has_more;
  showQuestion(state.ask);
  showPictures(state.pictures, theme, state.made);
  showCounts(state.counts);
  showBells(state.bells);
  showClearing(state.clearing);
  byId("units").textContent = state.metric ? "Feet instead of metres" : "Metres instead of feet";
}
