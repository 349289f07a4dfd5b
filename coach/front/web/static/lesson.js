// A lesson of the school, beside the talk. Only text is ever put into the page, never markup.

import { make } from "/show.js";

const byId = (id) => document.getElementById(id);
const page = document.documentElement;
const LIKE = "What it shows stands in words below.";
let shown = "";

const isSure = (lesson) => lesson.kind === "sure";
const isBoater = (lesson) => lesson.kind === "boater";

function fill(id, children) {
  byId(id).replaceChildren(...children);
}

/** Lines as paragraphs; an empty one begins a new part. */
function paragraphs(lines) {
  return lines.map((line) => (line ? make("p", {}, line) : make("hr", { "aria-hidden": "true" })));
}

function picture(lesson, theme) {
  if (!lesson.picture) return [];
  const image = make("img", {
    src: `/lesson/picture?theme=${theme}&n=${lesson.token}`, alt: `The question, drawn. ${LIKE}`,
  });
  const words = make("ul", {}, ...lesson.picture.map((say) => make("li", {}, say)));
  return [make("figure", {}, image, make("figcaption", {}, words))];
}

function answers(lesson) {
  return lesson.answers.map((label, place) => make(
    "button", { type: "button", "data-lesson": String(place + 1), "data-about": lesson.token },
    make("span", { className: "digit", "aria-hidden": "true" }, String(place + 1)), make("span", {}, label),
  ));
}

function showField(lesson) {
  byId("lesson-say").hidden = isSure(lesson);
  const ask = isBoater(lesson) ? "Ask one thing, or say: it is ..." : "Or in your own words";
  byId("lesson-label").textContent = lesson.unit ? `The number, in ${lesson.unit}` : ask;
  byId("lesson-show").textContent = isBoater(lesson) ? "Show it" : "Don't know";
  byId("lesson-field").inputMode = lesson.unit ? "decimal" : "text";
  byId("lesson-hint").hidden = isSure(lesson) || isBoater(lesson);
  byId("lesson-show").hidden = isSure(lesson);
}

/** Show the lesson as it stands; the same question is left alone, so that nobody's focus is taken. */
export function showLesson(lesson, theme) {
  if (!lesson) return;
  fill("lesson-hints", lesson.hints.map((say) => make("p", {}, say)));
  byId("learn").textContent = lesson.is_open ? "Go on with the lesson" : "Learn: a few questions a day";
  const key = JSON.stringify([{ ...lesson, hints: [] }, theme]);
  if (key === shown) return;
  const isNew = shown !== "" && page.dataset.panel === "lesson";
  shown = key;
  byId("lesson-asked").hidden = !lesson.is_open;
  byId("lesson-more").hidden = lesson.is_open || !lesson.said.length;
  byId("lesson-boater").hidden = lesson.is_open || !lesson.has_played;
  fill("lesson-said", paragraphs(lesson.said));
  fill("lesson-picture", picture(lesson, theme));
  fill("lesson-facts", paragraphs(lesson.facts));
  byId("lesson-ask").textContent = lesson.ask;
  byId("lesson-answered").textContent = isSure(lesson) ? `You: ${lesson.answered}` : "";
  if (isSure(lesson)) byId("lesson-answered").append(make("strong", {}, "How sure are you?"));
  fill("lesson-answers", answers(lesson));
  showField(lesson);
  if (isNew) lead(lesson);
}

/** Bring what is new to the eye and the ear. */
function lead(lesson) {
  scrollTo(0, 0);
  byId("lesson-field").value = "";
  const isTyped = (lesson.unit || isBoater(lesson)) && !matchMedia("(pointer: coarse)").matches;
  byId(lesson.is_open ? (isTyped ? "lesson-field" : "lesson-ask") : "h-lesson").focus({ preventScroll: true });
}

/** How the learner stands, called up when it is looked at. */
export async function showStanding() {
  try {
    const response = await fetch("/lesson/standing", { signal: AbortSignal.timeout(15000) });
    const standing = await response.json();
    fill("standing-lines", paragraphs(standing.lines));
    byId("sign").hidden = !standing.is_ready;
  } catch {
    fill("standing-lines", [make("p", {}, "No connection.")]);
  }
}
